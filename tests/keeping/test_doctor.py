import os
import random
from datetime import timedelta
from types import SimpleNamespace

import pytest
from django.db import OperationalError, connection
from django.utils import timezone

from accuracy.models import LearningState
from tests.builders import athlete, csv_file, imported, part
from trainlog import originals, secret_key
from trainlog.celery import app
from trainlog.keeping import doctor, look_at_database, look_at_machine, look_at_site, look_at_work
from trainlog.keeping.findings import Finding
from trainlog.models import Recording, SweepRun
from trainlog.services import answering
from trainlog.services.answering import QUEUES
from trainlog.services.import_files import receive
from trainlog.signals import installation_examined

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def data_folder(settings, tmp_path):
    settings.DATA_FOLDER = tmp_path / "data"
    settings.DATA_FOLDER.mkdir(mode=0o700)
    return settings.DATA_FOLDER


@pytest.fixture
def no_queue(monkeypatch, tmp_path):
    monkeypatch.setattr(app.conf, "broker_write_url", f"redis+socket://{tmp_path / 'nobody.sock'}")


def test_a_finding_without_a_remedy_is_well():
    assert str(Finding("space", "2 GB free")) == "ok       space: 2 GB free"


def test_a_finding_says_what_to_do():
    finding = Finding("space", "none left.", "Free some.")
    assert not finding.ok
    assert str(finding) == "to mend  space: none left. Free some."


def test_an_old_python_is_to_mend(monkeypatch):
    monkeypatch.setattr("sys.version_info", (3, 9, 1))
    assert not look_at_machine.python().ok


def test_this_python_is_well():
    assert look_at_machine.python().ok


def test_libraries_are_held_against_the_lock(tmp_path):
    lock = tmp_path / "requirements.lock"
    installed = look_at_machine._installed("django")
    lock.write_text(f"django=={installed} \\\n    --hash=sha256:00\n")
    assert look_at_machine.libraries(lock).ok
    lock.write_text("django==1.0 \\\n    --hash=sha256:00\nno-such-library==2 \\\n")
    finding = look_at_machine.libraries(lock)
    assert f"django {installed}, no-such-library is absent" in finding.said
    assert "--require-hashes" in finding.remedy


def test_a_library_for_other_machines_may_be_absent_and_have_several_versions(tmp_path):
    lock = tmp_path / "requirements.lock"
    installed = look_at_machine._installed("django")
    lock.write_text(
        "no-such-library==2 ; sys_platform == 'win32' \\\n"
        f"django==1.0 ; python_version < '3.0' \\\ndjango=={installed} ; python_version >= '3.0' \\\n"
    )
    assert look_at_machine.libraries(lock).ok


def test_the_projects_own_lock_is_read():
    assert "requirements.lock" in look_at_machine.libraries().said


def test_a_private_folder_that_can_be_written_to_is_well(data_folder):
    assert look_at_machine.data_folder().ok
    assert list(data_folder.iterdir()) == []


def test_a_folder_open_to_others_is_to_mend(data_folder):
    data_folder.chmod(0o750)
    assert look_at_machine.data_folder().remedy == f"Run `chmod 700 {data_folder}`."


def test_a_folder_that_cannot_be_written_to_is_to_mend(monkeypatch):
    def refuse(_):
        raise OSError(30, "Read-only file system")

    monkeypatch.setattr(os, "fsync", refuse)
    assert "Read-only file system" in look_at_machine.data_folder().said


@pytest.mark.parametrize(("free", "ok"), [(1 << 29, False), (1 << 31, True)])
def test_a_full_disk_is_to_mend_before_it_is_full(monkeypatch, free, ok):
    monkeypatch.setattr("shutil.disk_usage", lambda _: SimpleNamespace(free=free))
    assert look_at_machine.space().ok is ok


def test_a_long_key_that_only_its_account_reads_is_well(settings, data_folder):
    secret_key.make(data_folder)
    settings.SECRET_KEY = secret_key.read(data_folder)
    assert look_at_machine.key().ok


def test_a_key_that_others_may_read_is_to_mend(settings, data_folder):
    secret_key.make(data_folder)
    settings.SECRET_KEY = secret_key.read(data_folder)
    (data_folder / secret_key.FILE_NAME).chmod(0o644)
    assert "chmod 600" in look_at_machine.key().remedy


def test_a_short_key_is_to_mend_and_never_shown(settings):
    settings.SECRET_KEY = "guess-me"
    finding = look_at_machine.key()
    assert not finding.ok
    assert "guess-me" not in str(finding)


def test_passwords_are_to_be_kept_as_argon2(settings):
    assert not look_at_machine.passwords().ok
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.Argon2PasswordHasher"]
    assert look_at_machine.passwords().ok


@pytest.mark.parametrize(
    ("url", "debug", "ok"),
    [
        ("http://127.0.0.1:8000", False, True),
        ("https://log.example.org", False, True),
        ("http://log.example.org", False, False),
        ("https://log.example.org", True, False),
    ],
)
def test_address_scheme_and_debugging_go_together(settings, url, debug, ok):
    settings.BASE_URL, settings.DEBUG = url, debug
    assert look_at_site.address().ok is ok


def test_static_files_that_were_not_collected_are_to_mend(settings, tmp_path):
    settings.STATIC_ROOT = tmp_path / "static"
    assert "collectstatic" in look_at_site.static_files().remedy


def test_what_django_finds_of_the_settings_is_told_by_name(settings):
    settings.BASE_URL = "https://log.example.org"
    settings.SESSION_COOKIE_SECURE = False
    finding = look_at_site.django_checks()
    assert "security.W012" in finding.said
    assert "check --deploy" in finding.remedy


def test_a_database_that_answers_is_well_and_one_that_does_not_is_told_alone(monkeypatch):
    assert look_at_database.reached().ok

    def refuse(*_):
        raise OperationalError

    monkeypatch.setattr(look_at_work, "workers", lambda: Finding("workers", "none"))
    monkeypatch.setattr(answering.connection, "cursor", refuse)
    last = list(doctor.examine())[-1]
    assert (last.name, last.ok) == ("database", False)


def test_tables_of_this_version_are_well():
    assert look_at_database.migrations().ok


def test_tables_that_wait_for_a_migration_are_to_mend():
    _migrated("DELETE FROM django_migrations WHERE app = 'accuracy' AND name LIKE '0004%'")
    assert "`python manage.py migrate`" in look_at_database.migrations().remedy


def test_tables_of_a_newer_version_are_to_mend():
    _migrated(
        "INSERT INTO django_migrations SELECT 9999, app, '9999_x', applied FROM django_migrations LIMIT 1"
    )
    assert "newer version" in look_at_database.migrations().said


@pytest.mark.skipif(connection.vendor != "sqlite", reason="only SQLite has a journal of this kind")
def test_a_journal_that_loses_what_was_answered_is_to_mend():
    assert "journal memory" in look_at_database.durability().said


def test_a_sound_database_file_is_well():
    assert look_at_database.soundness().ok


def test_originals_are_looked_at_by_sample(monkeypatch):
    owner = athlete()
    recording = imported(owner, csv_file())
    assert look_at_database.sample_of_originals().said == "1 of 1 looked at, all whole"
    originals.path_of(owner.pk, recording.sha256).write_bytes(b"rotten")
    assert "1 of 1 looked at are missing or damaged" in look_at_database.sample_of_originals().said


def test_a_large_log_has_only_some_originals_read(monkeypatch):
    named = {1: {f"{number:064x}" for number in range(500)}}
    monkeypatch.setattr(look_at_database, "named_originals", lambda _: named)
    read = []
    monkeypatch.setattr(originals, "read", lambda owner, sha256: read.append(sha256))
    random.seed(1)
    assert "20 of 500" in look_at_database.sample_of_originals().said
    assert len(set(read)) == 20


def test_a_queue_that_does_not_answer_is_to_mend_first(no_queue):
    assert "TRAINLOG_BROKER_URL" in look_at_work.broker().remedy
    assert look_at_work.lengths().remedy == look_at_work.workers().remedy == look_at_work.QUEUE_FIRST


def test_wake_ups_are_counted():
    with app.connection_for_write() as queue:
        for name in QUEUES:
            queue.default_channel.queue_purge(name)
    assert look_at_work.lengths().said == (
        "0 waiting for imports, 0 waiting for learning, 0 waiting for reports, 0 waiting for sweep"
    )


@pytest.mark.parametrize(
    ("queues", "silent"),
    [
        ({"work@a": "imports learning", "report@a": "reports", "sweep@b": "sweep"}, None),
        ({"work@a": "imports learning", "report@a": "reports"}, "none answers for sweep"),
        ({"read@a": "imports", "sweep@a": "sweep"}, "none answers for learning and reports"),
        (None, "none answers for imports and learning and reports and sweep"),
    ],
)
def test_a_worker_has_to_answer_for_each_queue(monkeypatch, queues, silent):
    answer = queues and {host: [{"name": name} for name in names.split()] for host, names in queues.items()}
    inspector = SimpleNamespace(active_queues=lambda: answer)
    monkeypatch.setattr(app.control, "inspect", lambda timeout: inspector)
    finding = look_at_work.workers()
    assert finding.ok is (silent is None)
    assert (silent or "report@a, sweep@b, work@a answer") in finding.said


def test_no_sweep_yet_is_to_mend():
    assert not look_at_work.sweep().ok


@pytest.mark.parametrize(
    ("ago", "said", "ok"),
    [
        (timedelta(seconds=20), "20 seconds ago", True),
        (timedelta(hours=3), "3 hours ago", False),
        (timedelta(minutes=-10), "in the future", False),
    ],
)
def test_the_last_sweep_is_recent_and_not_in_the_future(ago, said, ok):
    SweepRun.objects.create(pk=SweepRun.THE_ONE, ended_at=timezone.now() - ago)
    finding = look_at_work.sweep()
    assert finding.ok is ok
    assert said in finding.said


def test_a_file_that_waits_for_long_is_to_mend():
    assert look_at_work.waiting_files().said == "none waits to be read"
    receive(athlete(), "x.csv", csv_file())
    assert look_at_work.waiting_files().ok
    Recording.objects.update(received_at=timezone.now() - timedelta(hours=3))
    finding = look_at_work.waiting_files()
    assert not finding.ok
    assert "1 file waits to be read, the oldest for 3 hours" in finding.said


def learning():
    """What the app that learns has found."""
    return [finding for _, found in installation_examined.send(sender=Finding) for finding in found]


def test_a_log_that_is_up_to_date_is_well():
    assert [(finding.name, finding.said) for finding in learning()] == [("learning", "up to date")]


def test_a_log_that_has_waited_to_be_learned_from_is_to_mend():
    owner = athlete()
    waiting = part(owner)
    type(owner).objects.update(log_revision=3)
    assert learning()[0].said == "one log about to be learned from"
    type(waiting).objects.update(changed_at=timezone.now() - timedelta(hours=1))
    assert "loads of one log have been out of date" in learning()[0].said
    assert not learning()[0].ok


def test_learning_that_failed_every_time_is_to_mend():
    owner = athlete()
    type(owner).objects.update(log_revision=3)
    LearningState.objects.create(owner=owner, attempts=3, failure="private words")
    finding = learning()[0]
    assert "failed 3 times for one log" in finding.said
    assert "private words" not in str(finding)


def test_a_look_that_breaks_is_a_finding_and_the_others_go_on(monkeypatch):
    def broken():
        raise RuntimeError("something private")

    monkeypatch.setattr(look_at_work, "workers", lambda: Finding("workers", "none"))
    monkeypatch.setattr(doctor, "WITH_DATABASE", (("first", broken), ("second", look_at_work.waiting_files)))
    found = {finding.name: finding for finding in doctor.examine()}
    assert "RuntimeError" in found["first"].said
    assert "something private" not in str(found["first"])
    assert found["files"].ok


def _migrated(statement):
    with connection.cursor() as cursor:
        cursor.execute(statement)
