from datetime import timedelta

import pytest
from django.db import OperationalError
from django.utils import timezone
from prometheus_client.parser import text_string_to_metric_families

from tests.builders import athlete, csv_file, imported
from trainlog.celery import app
from trainlog.models import Recording, SweepRun
from trainlog.services import answering
from trainlog.services.import_files import receive

pytestmark = pytest.mark.django_db

HERE = {"REMOTE_ADDR": "127.0.0.1"}


def figures(client):
    """Value of every figure, by its name and what it is of."""
    answer = client.get("/metrics", **HERE)
    assert answer.status_code == 200
    return {
        (sample.name, *sample.labels.values()): sample.value
        for family in text_string_to_metric_families(answer.content.decode())
        for sample in family.samples
    }


def test_this_machine_may_ask_where_the_log_is_for_this_machine_alone(client):
    assert client.get("/metrics", **HERE).status_code == 200
    assert client.get("/metrics", REMOTE_ADDR="::1").status_code == 200


@pytest.mark.parametrize("address", ["192.0.2.7", "172.17.0.1", ""])
def test_another_machine_may_not(client, address):
    answer = client.get("/metrics", REMOTE_ADDR=address)
    assert answer.status_code == 401
    assert answer["WWW-Authenticate"] == "Bearer"


@pytest.mark.parametrize("header", ["X-Forwarded-For", "Forwarded", "X-Forwarded-Proto", "X-Real-IP"])
def test_behind_a_proxy_nobody_is_taken_for_this_machine(client, header):
    assert client.get("/metrics", headers={header: "127.0.0.1"}, **HERE).status_code == 401


def test_where_others_reach_the_log_nobody_is_taken_for_this_machine(client, settings):
    """A proxy that adds no header looks just like this machine."""
    settings.BASE_URL = "https://log.example.org"
    assert client.get("/metrics", **HERE).status_code == 401


def test_with_a_token_whoever_brings_it_may_ask_and_nobody_else(client, settings):
    settings.METRICS_TOKEN = "a-long-token"
    settings.BASE_URL = "https://log.example.org"
    asked = {"REMOTE_ADDR": "192.0.2.7"}
    assert (
        client.get("/metrics", headers={"Authorization": "Bearer a-long-token"}, **asked).status_code == 200
    )
    for wrong in ("Bearer a-long-toke", "Bearer", "a-long-token", "Bearer ä"):
        assert client.get("/metrics", headers={"Authorization": wrong}, **asked).status_code == 401
    assert client.get("/metrics", **HERE).status_code == 401


def test_what_waits_and_since_when_is_told(client):
    owner = athlete()
    receive(owner, "x.csv", csv_file())
    Recording.objects.update(received_at=timezone.now() - timedelta(minutes=3))
    found = figures(client)
    assert found["trainlog_work_waiting", "files"] == 1
    assert found["trainlog_work_oldest_seconds", "files"] == pytest.approx(180, abs=30)
    assert {kind for name, *kinds in found if name == "trainlog_work_waiting" for kind in kinds} == {
        *("files", "learning", "reports")
    }
    assert found["trainlog_rows", "recordings"] == 1
    assert found["trainlog_rows", "logs"] == 1


def test_wake_ups_and_the_sweep_are_told(client):
    SweepRun.objects.create(pk=SweepRun.THE_ONE, ended_at=timezone.now() - timedelta(seconds=40))
    found = figures(client)
    assert found["trainlog_sweep_age_seconds",] == pytest.approx(40, abs=30)
    assert {kind for name, *kinds in found if name == "trainlog_wake_ups" for kind in kinds} == set(
        answering.QUEUES
    )
    assert found["trainlog_queue_up",] == found["trainlog_database_up",] == 1


def test_requests_are_told_by_route(client):
    client.get("/sign-in")
    found = figures(client)
    assert found["trainlog_requests_total", "GET", "sign_in", "2xx"] >= 1
    assert found["trainlog_request_seconds_count", "sign_in"] >= 1


def test_nothing_of_any_one_log_is_told(client):
    owner = athlete("zebrafinch")
    imported(owner, csv_file(), name="zebrafinch.csv")
    client.force_login(owner.user)
    client.get("/log?words=zebrafinch")
    assert "zebrafinch" not in client.get("/metrics", **HERE).content.decode()


def test_a_queue_that_is_down_is_told_and_the_rest_too(client, monkeypatch, tmp_path):
    monkeypatch.setattr(app.conf, "broker_read_url", f"redis+socket://{tmp_path / 'nobody.sock'}")
    found = figures(client)
    assert found["trainlog_queue_up",] == 0
    assert found["trainlog_work_waiting", "files"] == 0


def test_a_database_that_is_down_is_told(client, monkeypatch):
    def refuse(*_, **__):
        raise OperationalError

    monkeypatch.setattr(answering.connection, "cursor", refuse)
    found = figures(client)
    assert found["trainlog_database_up",] == 0
    assert found["trainlog_queue_up",] == 1
