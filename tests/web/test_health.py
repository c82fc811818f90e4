import time
from datetime import timedelta

import pytest
from django.db import OperationalError, connection
from django.utils import timezone

from tests.builders import athlete, csv_file
from trainlog.celery import app
from trainlog.models import Recording, SweepRun
from trainlog.services import answering
from trainlog.services.import_files import receive
from trainlog.web import health

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def just_started(monkeypatch):
    """Health goes by the age of the web process; that of a long run of tests is not meant."""
    monkeypatch.setattr(health, "_began", time.monotonic())


@pytest.fixture
def long_running(just_started, monkeypatch):
    """The web process has been up for a day."""
    monkeypatch.setattr(health, "_began", health._began - 86_400)


def swept(**ago):
    SweepRun.objects.create(pk=SweepRun.THE_ONE, ended_at=timezone.now() - timedelta(**ago))


def test_health_is_told_to_anyone(client):
    swept(seconds=5)
    answer = client.get("/health")
    assert answer.status_code == 200
    found = answer.json()
    assert 5 <= found["sweep"].pop("seconds_ago") < 60
    nothing_waits = {"ok": True, "oldest_seconds": 0}
    assert found == {
        "ok": True,
        "database": {"ok": True},
        "queue": {"ok": True},
        "sweep": {"ok": True},
        "files": nothing_waits,
        "learning": nothing_waits,
        "reports": nothing_waits,
    }


def test_no_sweep_for_minutes_is_not_well(client, long_running):
    swept(minutes=10)
    answer = client.get("/health")
    assert answer.status_code == 503
    assert not answer.json()["sweep"]["ok"]
    assert answer.json()["sweep"]["seconds_ago"] >= 600


def test_an_installation_that_never_swept_is_not_well(client, long_running):
    assert client.get("/health").status_code == 503


def test_a_start_after_a_long_pause_is_given_time_to_sweep(client):
    swept(days=30)
    assert client.get("/health").status_code == 200


def test_a_queue_that_is_down_is_not_well(client, monkeypatch, tmp_path):
    monkeypatch.setattr(app.conf, "broker_write_url", f"redis+socket://{tmp_path / 'nobody.sock'}")
    answer = client.get("/health")
    assert answer.status_code == 503
    assert answer.json()["queue"] == {"ok": False}


def test_a_database_that_is_down_is_answered_too(client, monkeypatch):
    def refuse(*_, **__):
        raise OperationalError

    monkeypatch.setattr(answering.connection, "cursor", refuse)
    answer = client.get("/health")
    assert answer.status_code == 503
    assert answer.json()["database"] == {"ok": False}


def a_file_waits(**ago):
    receive(athlete(), "x.csv", csv_file())
    Recording.objects.update(received_at=timezone.now() - timedelta(**ago))


def test_a_file_that_waits_for_minutes_is_well(client, long_running):
    swept(seconds=5)
    a_file_waits(minutes=10)
    answer = client.get("/health")
    assert answer.status_code == 200
    assert answer.json()["files"]["oldest_seconds"] >= 600


def test_a_file_that_waits_for_longer_is_not(client, long_running):
    swept(seconds=5)
    a_file_waits(minutes=20)
    answer = client.get("/health")
    assert answer.status_code == 503
    assert not answer.json()["files"]["ok"]


def test_a_start_after_a_long_pause_is_given_time_to_read_what_waits(client):
    swept(days=30)
    a_file_waits(days=30)
    assert client.get("/health").status_code == 200


def test_work_that_was_taken_up_and_left_is_not_well(client, long_running):
    swept(seconds=5)
    a_file_waits(minutes=10)
    Recording.objects.update(attempts=1, claimed_until=timezone.now() - timedelta(minutes=4))
    assert not client.get("/health").json()["files"]["ok"]


def test_a_process_whose_database_answers_with_all_its_tables_is_ready(client):
    answer = client.get("/ready")
    assert (answer.status_code, answer.json()) == (
        200,
        {"ok": True, "database": {"ok": True}, "tables": {"ok": True}},
    )


def test_a_queue_that_is_down_leaves_pages_ready(client, monkeypatch, tmp_path):
    monkeypatch.setattr(app.conf, "broker_write_url", f"redis+socket://{tmp_path / 'nobody.sock'}")
    assert client.get("/ready").status_code == 200


def test_work_that_waits_for_long_leaves_pages_ready(client, long_running):
    a_file_waits(days=1)
    assert client.get("/ready").status_code == 200


def test_a_process_without_a_database_is_not_ready(client, monkeypatch):
    def refuse(*_, **__):
        raise OperationalError

    monkeypatch.setattr(answering.connection, "cursor", refuse)
    answer = client.get("/ready")
    assert answer.status_code == 503
    assert answer.json()["database"] == {"ok": False}


def test_a_process_whose_tables_wait_for_a_migration_is_not_ready(client):
    with connection.cursor() as cursor:
        cursor.execute("DELETE FROM django_migrations WHERE app = 'accuracy' AND name LIKE '0004%'")
    answer = client.get("/ready")
    assert answer.status_code == 503
    assert answer.json() == {"ok": False, "database": {"ok": True}, "tables": {"ok": False}}
