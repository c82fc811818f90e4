"""Asking for reports, taking them up once, and giving up with a reason."""

from datetime import timedelta

import pytest
from django.core.exceptions import ValidationError
from django.utils import timezone

from accuracy import tasks
from accuracy.models import Report, ReportFile
from accuracy.services import reports
from accuracy.services.reports import (
    ask_for_report,
    claim_report,
    delete_report,
    keep_report,
    reports_of,
    sensors_with_pairs,
    set_aside,
    unmade,
)
from tests.accuracy.pair_builders import kept_pair
from tests.builders import MORNING, athlete, sensor
from trainlog.celery import app

pytestmark = pytest.mark.django_db

DAY = MORNING.date()
FILES = {"html": b"<!doctype html>", "pdf": b"%PDF", "zip": b"PK"}


@pytest.fixture(autouse=True)
def woken(monkeypatch, settings, tmp_path):
    settings.DATA_FOLDER = tmp_path
    sent: list[tuple] = []
    monkeypatch.setattr(reports, "wake", lambda *what: sent.append(what))
    return sent


@pytest.fixture
def wrist(ana):
    return kept_pair(ana).tested.sensor


@pytest.fixture
def report(ana, wrist):
    return ask_for_report(ana, [wrist])


def later(report, **time):
    """The same as if it had been asked for and claimed so much earlier."""
    passed = timedelta(**time)
    report.refresh_from_db()
    Report.objects.filter(pk=report.pk).update(
        asked_at=report.asked_at - passed,
        claimed_until=report.claimed_until and report.claimed_until - passed,
    )


def refusal(athlete, sensors, **days):
    with pytest.raises(ValidationError) as refused:
        ask_for_report(athlete, sensors, **days)
    return " ".join(refused.value.messages)


def test_a_report_leaves_out_names_unless_told_otherwise(report, wrist):
    assert report.anonymised
    assert list(report.sensors.all()) == [wrist]


def test_a_worker_is_woken_once_it_is_asked_for(ana, wrist, woken, django_capture_on_commit_callbacks):
    with django_capture_on_commit_callbacks(execute=True):
        asked = ask_for_report(ana, [wrist])
        assert woken == []
    assert woken == [("accuracy.tasks.make_report", asked.pk)]


def test_sensors_with_at_least_one_usable_pair_are_offered(ana, wrist):
    sensor(ana, "never worn with a strap")
    assert list(sensors_with_pairs(ana)) == [wrist]


def test_a_pair_that_was_set_aside_is_nothing_to_report(ana):
    pair = kept_pair(ana, usable=False)
    assert list(sensors_with_pairs(ana)) == []
    assert "together" in refusal(ana, [pair.tested.sensor])


def test_without_a_sensor_there_is_nothing_to_report(ana):
    assert refusal(ana, []) == "Choose at least one sensor."


def test_a_sensor_without_a_pair_is_named(ana, wrist):
    alone = sensor(ana, "left")
    assert refusal(ana, [wrist, alone]) == "No session was recorded by a strap and left together."


def test_days_without_a_pair_are_nothing_to_report(ana, wrist):
    assert "on these days" in refusal(ana, [wrist], last_day=DAY - timedelta(days=1))


def test_days_are_in_order(ana, wrist):
    words = refusal(ana, [wrist], first_day=DAY, last_day=DAY - timedelta(days=1))
    assert words == "The last day must not be before the first."


def test_another_athletes_sensor_is_refused(wrist):
    assert refusal(athlete("ben"), [wrist]) == "Choose sensors of your own."


def test_no_more_are_kept_than_a_log_may(ana, wrist, monkeypatch):
    monkeypatch.setattr(reports, "MOST_KEPT", 1)
    ask_for_report(ana, [wrist])
    assert "delete one first" in refusal(ana, [wrist])


def test_one_worker_at_a_time_makes_a_report(report):
    assert claim_report(report.pk) == report
    assert claim_report(report.pk) is None


def test_a_claim_ends_by_itself(report):
    claim_report(report.pk)
    later(report, minutes=6)
    assert claim_report(report.pk) == report


def test_what_is_made_is_not_made_again(report):
    keep_report(claim_report(report.pk), FILES)
    later(report, minutes=6)
    assert claim_report(report.pk) is None
    assert unmade() == []


def test_all_forms_are_kept_at_once(report, ana):
    assert keep_report(claim_report(report.pk), FILES)
    (shown,) = reports_of(ana)
    assert shown.state == Report.State.MADE
    assert {file.kind: file.byte_count for file in shown.files.all()} == {"html": 15, "pdf": 4, "zip": 2}
    assert bytes(ReportFile.objects.of(ana).get(kind="pdf").content) == b"%PDF"


def test_a_report_that_was_deleted_while_it_was_made_stays_deleted(report):
    claimed = claim_report(report.pk)
    delete_report(report)
    assert not keep_report(claimed, FILES)
    assert not ReportFile.objects.exists()


def test_the_list_fetches_no_contents(report, ana, django_assert_num_queries):
    keep_report(claim_report(report.pk), FILES)
    with django_assert_num_queries(3) as asked:
        reports_of(ana)
    assert not any('"content"' in query["sql"] for query in asked.captured_queries)


def test_the_sweep_leaves_the_wake_up_its_chance(report):
    assert unmade() == []
    later(report, seconds=20)
    assert unmade() == [report.pk]


def test_the_sweep_leaves_what_somebody_is_at(report):
    later(report, seconds=20)
    claim_report(report.pk)
    assert unmade() == []


def test_a_failed_attempt_is_tried_again_until_the_third(report):
    for _ in range(2):
        set_aside(claim_report(report.pk))
        report.refresh_from_db()
        assert report.state == Report.State.WAITING
    set_aside(claim_report(report.pk))
    report.refresh_from_db()
    assert report.state == Report.State.FAILED
    assert "failed 3 times" in report.failure


def test_a_reason_fails_it_at_once(report):
    set_aside(claim_report(report.pk), "No session was recorded.")
    report.refresh_from_db()
    assert (report.state, report.failure) == (Report.State.FAILED, "No session was recorded.")


def test_what_breaks_off_three_times_is_given_up_by_the_sweep(report):
    for _ in range(3):
        assert claim_report(report.pk)
        later(report, minutes=6)
    assert unmade() == []
    report.refresh_from_db()
    assert report.state == Report.State.FAILED
    assert "begun 3 times" in report.failure


def test_a_deleted_report_takes_its_files_along(report):
    keep_report(claim_report(report.pk), FILES)
    delete_report(report)
    assert not ReportFile.objects.exists()


def test_a_claim_outlasts_the_task_that_makes_it():
    assert reports.CLAIM.total_seconds() > tasks.make_report.time_limit


def test_a_task_that_outlasts_the_queues_patience_is_not_sent_twice():
    patience = app.conf.broker_transport_options["visibility_timeout"]
    assert tasks.make_report.time_limit > patience
    assert not tasks.make_report.acks_late


def test_a_claim_ends_in_the_future(report):
    claim_report(report.pk)
    report.refresh_from_db()
    assert report.claimed_until > timezone.now()
