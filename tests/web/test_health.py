import time
from datetime import timedelta

import pytest
from django.db import OperationalError
from django.utils import timezone

from trainlog.celery import app
from trainlog.models import SweepRun
from trainlog.services import answering
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
    assert found == {"ok": True, "database": {"ok": True}, "queue": {"ok": True}, "sweep": {"ok": True}}


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
