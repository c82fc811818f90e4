import json
import os
import stat
import zipfile

import pytest
from django.contrib.sessions.models import Session
from django.db import connection

from tests.builders import athlete, csv_file, imported
from tests.keeping.conftest import PUT_BACK
from trainlog import originals
from trainlog.keeping import backup as module
from trainlog.keeping import write_archive
from trainlog.keeping.backup import BackupRefused, backup
from trainlog.keeping.read_archive import verify
from trainlog.keeping.tables import kept, named_originals
from trainlog.models import Deletion, Recording

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def folder(settings, tmp_path):
    settings.DATA_FOLDER = tmp_path / "data"
    settings.DATA_FOLDER.mkdir()
    target = tmp_path / "backups"
    target.mkdir()
    return target


@pytest.fixture
def log(the_database, folder):
    """A log with one recording."""
    return imported(athlete(), csv_file())


def test_a_backup_holds_every_table_but_sessions(kept_log):
    named = {table.model for table in kept_log.manifest.tables}
    assert named == {model._meta.label_lower for model in kept()}
    assert Session._meta.label_lower not in named


def test_the_log_that_these_tests_keep_has_a_row_of_nearly_every_kind(kept_log):
    nothing_of = {label for label, digest in kept_log.digests.items() if not digest.rows}
    assert nothing_of <= {
        *("auth.group_permissions", "auth.user_user_permissions"),
        *("axes.accessfailurelog", "axes.accessattemptexpiration"),
    }


def test_the_manifest_counts_and_hashes_the_rows_as_the_database_has_them(kept_log):
    told = {table.model: (table.rows, table.values_sha256) for table in kept_log.manifest.tables}
    assert told == kept_log.digests


def test_originals_lie_inside_under_their_hashes_and_any_zip_program_gets_them_out(kept_log):
    with zipfile.ZipFile(kept_log.file) as archive:
        inside = {name: archive.read(name) for name in archive.namelist() if name.startswith("originals/")}
    assert {name.rpartition("/")[2]: content for name, content in inside.items()} == {
        path.rpartition("/")[2]: content for path, content in kept_log.originals.items()
    }
    assert PUT_BACK in inside.values()


def test_a_backup_says_what_made_it_and_what_is_not_inside(kept_log):
    with zipfile.ZipFile(kept_log.file) as archive:
        said = json.loads(archive.read("manifest.json"))
    assert said["format"] == 1
    assert said["database"] == connection.vendor
    assert ["trainlog", "0001_initial"] in said["migrations"]
    assert "secret key" in said["not_inside"]
    assert all(len(member["sha256"]) == 64 for member in said["members"].values())


def test_only_its_owner_may_read_a_backup(kept_log):
    assert stat.S_IMODE(kept_log.file.stat().st_mode) == 0o600


def test_a_folder_gets_a_file_named_by_the_time(log, folder):
    path, _ = backup(folder)
    assert [path] == list(folder.iterdir())
    assert path.name.startswith("trainlog-20")


def test_a_backup_is_never_overwritten(log, folder):
    (folder / "one.zip").write_bytes(b"an older one")
    with pytest.raises(BackupRefused, match="there already"):
        backup(folder / "one.zip")
    assert (folder / "one.zip").read_bytes() == b"an older one"


def test_a_folder_that_is_not_there_is_refused(log, folder):
    with pytest.raises(BackupRefused, match="no folder"):
        backup(folder / "nowhere" / "one.zip")


def test_a_backup_has_its_name_only_once_it_is_on_disk(log, folder, monkeypatch):
    seen = []
    sync = os.fsync

    def watched(handle):
        seen.append(((folder / "one.zip").exists(), os.readlink(f"/proc/self/fd/{handle}")))
        sync(handle)

    monkeypatch.setattr(os, "fsync", watched)
    backup(folder / "one.zip")
    named_when_synced = [named for named, path in seen if path.endswith("unfinished.zip")]
    assert named_when_synced == [False]
    assert seen[-1] == (True, str(folder))


@pytest.mark.parametrize(
    ("where", "what"),
    [(zipfile.ZipFile, "writestr"), (write_archive._Hashed, "write"), (os, "fsync")],
    ids=["among originals", "among rows", "at the end"],
)
def test_a_disk_that_fills_leaves_nothing_behind(log, folder, monkeypatch, where, what):
    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(where, what, full)
    with pytest.raises(OSError, match="No space"):
        backup(folder / "one.zip")
    assert list(folder.iterdir()) == []


def test_an_original_that_is_lost_is_said_to_be_and_the_rest_is_kept(log, folder):
    lost = imported(log.owner, csv_file(bpm=120), "lost.csv")
    originals.forget(lost.owner_id, lost.sha256)
    path, manifest = backup(folder)
    assert manifest.missing_originals == {str(lost.owner_id): [lost.sha256]}
    assert manifest.originals == {str(log.owner_id): [log.sha256]}
    assert verify(path) == manifest


def test_an_original_that_is_damaged_is_not_kept_as_if_it_were_whole(log, folder):
    originals.path_of(log.owner_id, log.sha256).write_bytes(b"rotten")
    _, manifest = backup(folder)
    assert manifest.missing_count == 1
    assert manifest.original_count == 0


def test_a_deletion_between_snapshot_and_copy_has_the_backup_begun_anew(log, folder, monkeypatch):
    going = imported(log.owner, csv_file(bpm=120, device="wrist 2"), "going.csv")
    sha256 = going.sha256
    read = originals.read

    def deleting(owner, wanted):
        if wanted == sha256 and Recording.objects.filter(sha256=sha256).exists():
            Recording.objects.filter(sha256=sha256).delete()
            originals.forget(owner, sha256)
        return read(owner, wanted)

    monkeypatch.setattr(originals, "read", deleting)
    path, manifest = backup(folder)
    assert manifest.missing_count == 0
    assert manifest.originals == {str(log.owner_id): [log.sha256]}
    assert next(table.rows for table in manifest.tables if table.model == "trainlog.recording") == 1
    assert verify(path) == manifest


def test_a_log_that_never_holds_still_is_kept_with_what_is_missing_named(log, folder, monkeypatch):
    monkeypatch.setattr(module, "_some_were_deleted", lambda missing: True)
    originals.forget(log.owner_id, log.sha256)
    _, manifest = backup(folder)
    assert manifest.missing_count == 1


def test_what_a_killed_backup_left_is_removed_once_it_is_a_day_old(log, folder):
    for name in (".trainlog-backup-old", ".trainlog-backup-new", "mine"):
        (folder / name).mkdir()
    os.utime(folder / ".trainlog-backup-old", (0, 0))
    os.utime(folder / "mine", (0, 0))
    path, _ = backup(folder)
    assert {entry.name for entry in folder.iterdir()} == {".trainlog-backup-new", "mine", path.name}


def test_originals_are_named_by_recordings_and_by_what_can_be_put_back(log):
    Deletion.objects.create(owner=log.owner, what="a run", rows=b"", hashes=["a" * 64])
    assert named_originals("default") == {log.owner_id: {log.sha256, "a" * 64}}
