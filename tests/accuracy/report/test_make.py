"""From a wish to files: by a worker, by the sweep, by hand."""

import io
import zipfile
from datetime import timedelta

import pytest
from django.core.management import CommandError, call_command
from django.utils import timezone

from accuracy import tasks
from accuracy.models import Report, ReportFile
from accuracy.report import make
from accuracy.report.gather import gather
from accuracy.services.reports import ask_for_report
from tests.accuracy.pair_builders import athlete_with_physiology, kept_pair, shown_profile
from tests.accuracy.report.documents import document
from tests.builders import MORNING, athlete
from trainlog.celery import app
from trainlog.models import Sensor
from trainlog.services.sweep import sweep

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("data_folder")]


@pytest.fixture(scope="module")
def tested(rows_of_the_module):
    """Key of a sensor with three pairs and a profile."""
    owner = athlete_with_physiology(athlete("ana"))
    pairs = [kept_pair(owner, day=day) for day in range(3)]
    shown_profile(owner, pairs[0])
    return pairs[0].tested.sensor.pk


@pytest.fixture
def wrist(tested):
    return Sensor.objects.get(pk=tested)


@pytest.fixture
def ana(wrist):
    return wrist.owner


@pytest.fixture
def report(ana, wrist):
    return ask_for_report(ana, [wrist])


@pytest.fixture
def gathered(monkeypatch):
    """What gathering was asked for; it gives an invented report."""
    asked: list[dict] = []

    def invented(athlete, sensors, **wanted):
        asked.append({"athlete": athlete, "sensors": sensors, **wanted})
        return document()

    monkeypatch.setattr(make, "gather", invented)
    return asked


def contents(report):
    return {file.kind: bytes(file.content) for file in ReportFile.objects.filter(report=report)}


def test_a_worker_makes_every_form_of_the_logs_own_report(report):
    tasks.make_report(report.pk)
    report.refresh_from_db()
    made = contents(report)
    assert report.state == Report.State.MADE
    assert made["html"].startswith(b"<!doctype html>")
    assert made["pdf"].startswith(b"%PDF")
    archive = zipfile.ZipFile(io.BytesIO(made["zip"]))
    assert archive.read("report.html") == made["html"]
    assert archive.read("report.pdf") == made["pdf"]


def test_it_is_about_the_sensors_and_days_that_were_asked_for(ana, wrist, gathered):
    day = MORNING.date()
    asked = ask_for_report(ana, [wrist], anonymised=False, first_day=day, last_day=day)
    make.make_report(asked.pk)
    assert gathered == [
        {"athlete": ana, "sensors": [wrist], "anonymised": False, "first_day": day, "last_day": day}
    ]


def test_a_second_wake_up_makes_nothing_again(report, gathered):
    make.make_report(report.pk)
    before = contents(report)
    make.make_report(report.pk)
    assert len(gathered) == 1
    assert contents(report) == before


def test_a_report_that_is_no_more_is_no_trouble(gathered):
    make.make_report(12345)
    assert gathered == []


def test_pairs_that_are_gone_meanwhile_are_said_to_be(report, wrist, gathered):
    wrist.recordings.all().delete()
    make.make_report(report.pk)
    report.refresh_from_db()
    assert report.state == Report.State.FAILED
    assert report.failure.startswith("No session was recorded by a strap and wrist")
    assert gathered == []


def test_what_cannot_be_written_is_tried_three_times_and_leaves_no_file(report, monkeypatch):
    def broken(*_, **__):
        raise ZeroDivisionError

    monkeypatch.setattr(make, "gather", broken)
    for _ in range(3):
        with pytest.raises(ZeroDivisionError):
            make.make_report(report.pk)
    make.make_report(report.pk)
    report.refresh_from_db()
    assert report.state == Report.State.FAILED
    assert "its log says what it was" in report.failure
    assert contents(report) == {}


def test_the_sweep_wakes_a_worker_for_what_nobody_took_up(report, monkeypatch):
    sent: list[tuple] = []
    monkeypatch.setattr(tasks, "wake", lambda *what: sent.append(what))
    Report.objects.update(asked_at=timezone.now() - timedelta(minutes=1))
    sweep()
    assert ("accuracy.tasks.make_report", report.pk) in sent


def test_the_same_document_gives_the_same_files():
    assert make.files_of(document()) == make.files_of(document())


def test_an_anonymised_report_names_neither_the_sensor_nor_a_day(ana, wrist):
    wrist.name = "zebrafinch"
    wrist.save()
    made = make.files_of(gather(ana, [wrist], anonymised=True))
    archive = zipfile.ZipFile(io.BytesIO(made["zip"]))
    everything = made["html"] + b"".join(archive.read(name) for name in archive.namelist())
    assert b"zebrafinch" not in everything
    assert b"2026" not in archive.read("README.txt")
    assert b"CreationDate" not in made["pdf"]


def test_the_task_is_one_that_workers_know():
    assert "accuracy.tasks.make_report" in app.tasks


def run(*arguments):
    said = io.StringIO()
    call_command("report", *map(str, arguments), stdout=said)
    return said.getvalue()


def test_a_command_writes_the_three_files_without_a_queue(wrist, tmp_path):
    said = run("--user", "ana", "--sensor", wrist.name, "--anonymised", tmp_path / "new" / "folder")
    names = sorted(path.name for path in (tmp_path / "new" / "folder").iterdir())
    assert names == ["report.html", "report.pdf", "report.zip"]
    assert "report.pdf: 0." in said
    assert not Report.objects.exists()


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("--user", "nobody", "--sensor", "wrist"), "no user called nobody"),
        (("--user", "ana", "--sensor", "ring"), "no sensor called ring"),
        (("--user", "ana", "--sensor", "strap"), "No session was recorded by a strap and strap"),
        (("--user", "ana", "--sensor", "wrist", "--until", "2020-01-01"), "on these days"),
        (
            ("--user", "ana", "--sensor", "wrist", "--from", "2026-03-05", "--until", "2026-03-01"),
            "must not be before",
        ),
    ],
)
def test_what_the_command_cannot_report_is_said(wrist, tmp_path, arguments, words):
    with pytest.raises(CommandError, match=words):
        run(*arguments, tmp_path / "out")
    assert not (tmp_path / "out").exists()
