"""What the server writes holds no health data: through the whole life of a log, faults and all."""

import io
import logging
import logging.config
from unittest import mock

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from kombu.exceptions import OperationalError

from accuracy.models import Report
from accuracy.tasks import learn_athlete, make_report
from tests.builders import csv_file, equipped_athlete
from trainlog import originals
from trainlog.models import Part, Recording, Workout
from trainlog.services import wake as waking
from trainlog.services.delete_log import delete_log
from trainlog.services.delete_workouts import delete_workout
from trainlog.services.edit_workout import set_note
from trainlog.services.log_changed import log_changed
from trainlog.services.watch_folder import Watch, look
from trainlog.tasks import read_next

pytestmark = pytest.mark.django_db

MARK = "zebrafinch"
"""In every name and text of the log, in every fault's words, and in what is searched for."""

RATE = 143.625
FAULT = f"{MARK} at {RATE} bpm in {MARK}-morning.csv"
OURS = ("trainlog", "accuracy", "django", "celery", "axes", "kombu")


@pytest.fixture
def written(settings):
    """Everything that the installation's own logging writes, at its most talkative."""
    text = io.StringIO()
    config = settings.LOGGING | {"loggers": {}, "root": {"handlers": [], "level": "WARNING"}}
    names = (*OURS, "django.request", "django.security")
    before = {name: (logging.getLogger(name).level, logging.getLogger(name).propagate) for name in names}
    configurator = logging.config.DictConfigurator(
        {"version": 1, "filters": config["filters"], "formatters": config["formatters"]}
    )
    handler = logging.StreamHandler(text)
    console = settings.LOGGING["handlers"]["console"]
    for name in console["filters"]:
        handler.addFilter(configurator.configure_filter(dict(config["filters"][name])))
    handler.setFormatter(configurator.configure_formatter(dict(config["formatters"][console["formatter"]])))
    for name in OURS:
        logging.getLogger(name).setLevel(logging.DEBUG)
        logging.getLogger(name).addHandler(handler)
    yield text
    for name in OURS:
        logging.getLogger(name).removeHandler(handler)
    for name, (level, propagate) in before.items():
        logging.getLogger(name).setLevel(level)
        logging.getLogger(name).propagate = propagate


@pytest.fixture(autouse=True)
def awake(monkeypatch, tmp_path, settings):
    settings.DATA_FOLDER = tmp_path
    monkeypatch.setattr(waking, "_Queue", type("_Queue", (), {"down": False, "ask_again_at": 0.0}))


@pytest.fixture
def ana():
    return equipped_athlete(f"{MARK}ana", strap=f"{MARK} strap", wrist=f"{MARK} wrist")


@pytest.fixture
def page(ana):
    client = Client(raise_request_exception=False)
    client.force_login(ana.user)
    return client


def failing(*_args, **_kwargs):
    """A fault whose words, and whose cause's words, tell of the log."""
    try:
        raise FileNotFoundError(2, "No such file or directory", f"/data/{MARK}-morning.csv")
    except FileNotFoundError as cause:
        raise ValueError(FAULT) from cause


def upload(page, name, content):
    page.post("/files", {"files": [SimpleUploadedFile(f"{MARK}-{name}", content)]})
    while Recording.objects.filter(state="received").exists():
        read_next.apply(throw=False)


def test_the_whole_life_of_a_log_leaves_no_value_in_what_is_written(written, ana, page, tmp_path):
    upload(page, "wrist.csv", csv_file(bpm=RATE, device="wrist"))
    upload(page, "strap.csv", csv_file(bpm=RATE + 5, device="strap"))
    upload(page, "bad.csv", f"{MARK},{RATE}\nno,recording".encode())
    upload(page, "cut.gpx", f"<gpx><trk><name>{MARK}".encode())
    with mock.patch.object(originals, "read", failing):
        upload(page, "lost.csv", csv_file(bpm=RATE, device="wrist", minutes=11))
    for address in ("/nothing", "/week/nothing", "/", "/api/files/9"):
        page.get(f"{address}?find={MARK}&rate={RATE}")
    page.get(f"/?find={MARK}", headers={"Host": "elsewhere.example"})
    page.post("/api/workouts", {"note": MARK, "minutes": RATE}, content_type="application/json")
    Client(enforce_csrf_checks=True).post(f"/sign-in?next=/{MARK}", {"username": MARK, "password": MARK})
    Client().post("/sign-in", {"username": ana.user.username, "password": MARK})
    with mock.patch("trainlog.web.log.show", failing):
        assert page.get(f"/?find={MARK}&rate={RATE}").status_code == 500
    with mock.patch("trainlog.api.workouts.find_workouts", failing):
        assert page.get(f"/api/workouts?tag={MARK}").status_code == 500
    set_note(Workout.objects.of(ana).first(), MARK)
    with mock.patch("accuracy.services.digest.slices_of", failing):
        learn_athlete.apply((ana.pk,), throw=False)
    log_changed(ana, Part.objects.of(ana))
    with mock.patch("accuracy.services.learn._learn", failing):
        assert learn_athlete.apply((ana.pk,), throw=False).state == "FAILURE"
    log_changed(ana, Part.objects.of(ana))
    assert learn_athlete.apply((ana.pk,), throw=False).state == "SUCCESS"
    report = Report.objects.create(owner=ana)
    with mock.patch("accuracy.report.make.nothing_to_report", failing, create=False):
        make_report.apply((report.pk,), throw=False)
    Report.objects.update(state=Report.State.WAITING, claimed_until=None)
    nothing_wrong = mock.patch("accuracy.report.make.nothing_to_report", return_value="")
    with nothing_wrong, mock.patch("accuracy.report.make.files_of", failing):
        make_report.apply((report.pk,), throw=False)
    (tmp_path / "watched").mkdir()
    (tmp_path / "watched" / f"{MARK}.csv").write_bytes(csv_file(bpm=RATE, minutes=12))
    watch = Watch(tmp_path / "watched")
    with mock.patch("trainlog.services.watch_folder.take", failing):
        for _ in range(3):
            list(look(ana, watch, lambda: False))
    with mock.patch.object(waking.app, "send_task", side_effect=OperationalError(FAULT)):
        waking.wake("some.task", MARK)
    delete_workout(Workout.objects.of(ana).first())
    delete_log(ana)
    text = written.getvalue()
    for said in (
        "cannot be digested",
        "Learning from log",
        "Making report",
        "of a watched folder",
        "queue does not answer",
        "ValueError",
        "FileNotFoundError: No such file or directory",
        "Internal Server Error: log",
        "cannot be read",
    ):
        assert said in text
    shown = [line for line in text.splitlines() if MARK in line.lower() or str(RATE) in line]
    assert shown == []


def test_a_fault_is_told_by_its_kind_and_its_lines_of_code(written):
    try:
        failing()
    except ValueError:
        logging.getLogger("trainlog").exception("Row %s failed", 7)
    text = written.getvalue()
    assert "Row 7 failed" in text
    assert "in failing" in text
    assert text.index("FileNotFoundError") < text.index("the cause of") < text.index("ValueError")


def test_a_fault_among_the_arguments_is_told_by_its_kind(written):
    logging.getLogger("trainlog").warning("No answer (%s)", ValueError(FAULT))
    logging.getLogger("trainlog").warning(ValueError(FAULT))
    assert "No answer (ValueError)" in written.getvalue()
    assert MARK not in written.getvalue()


def test_a_record_keeps_no_request_whose_words_hold_the_address(rf):
    from trainlog.telling.without_values import WithoutValues

    record = logging.makeLogRecord({"msg": "x", "request": rf.get(f"/week?find={MARK}")})
    assert WithoutValues().filter(record)
    assert record.request == "GET /week"


def test_every_handler_takes_values_out(settings):
    for handler in settings.LOGGING["handlers"].values():
        assert "without_values" in handler["filters"]


def test_statements_to_the_database_are_not_written_at_any_level(settings):
    assert settings.LOGGING["loggers"]["django.db.backends"]["level"] == "INFO"
