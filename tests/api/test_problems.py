"""Whatever the API does not carry out, it says so in one form (RFC 9457), and tells nothing else."""

import pytest
from django.test import Client

from tests.builders import part, send
from trainlog.services.tokens import make_token

pytestmark = pytest.mark.django_db


def problem_of(answer):
    assert answer["Content-Type"] == "application/problem+json"
    said = answer.json()
    assert set(said) == {"type", "title", "status", "detail"}
    assert said["status"] == answer.status_code
    return said


def test_an_address_that_is_not_there_is_a_problem(signed_in):
    for address in ("/api/v1/nothing", "/api/nothing", "/api/v2/workouts", "/api/"):
        assert problem_of(signed_in.get(address))["title"] == "Not found"


def test_a_method_that_is_not_offered_is_a_problem_that_keeps_what_is(signed_in):
    answer = send(signed_in, "PUT", "/api/v1/workouts", {})
    assert problem_of(answer)["status"] == 405
    assert set(answer["Allow"].split(", ")) == {"GET", "POST"}


def test_a_fault_of_the_site_is_a_problem_that_tells_nothing_of_it(ana, monkeypatch):
    def fail(*args):
        raise RuntimeError("the secret of the inside")

    monkeypatch.setattr("trainlog.api.settings.choose", fail)
    client = Client(raise_request_exception=False)
    client.force_login(ana.user)
    answer = send(client, "PATCH", "/api/v1/settings", {"acute_days": 6})
    assert problem_of(answer)["type"] == "/api/v1/problems#went-wrong"
    assert b"secret" not in answer.content


def test_an_address_without_a_version_means_the_first(signed_in, ana):
    of = part(ana).workout_id
    assert signed_in.get(f"/api/workouts/{of}").json() == signed_in.get(f"/api/v1/workouts/{of}").json()
    assert send(signed_in, "PATCH", f"/api/workouts/{of}", {"note": "x"}).json()["note"] == "x"


def test_reads_and_changes_beyond_their_limits_are_told_to_wait(ana, settings):
    settings.API_READS_A_MINUTE, settings.API_CHANGES_A_MINUTE = 3, 1
    client, other = (
        Client(headers={"Authorization": f"Bearer {make_token(ana, name, 'write', 30).secret}"})
        for name in ("one", "other")
    )
    changes = [send(client, "PATCH", "/api/v1/settings", {}) for _ in range(3)]
    assert 429 in {answer.status_code for answer in changes}
    refused = next(answer for answer in reversed(changes) if answer.status_code == 429)
    assert problem_of(refused)["title"] == "Too many requests"
    assert 0 < int(refused["Retry-After"]) <= 60
    assert client.get("/api/v1/settings").status_code == 200
    # Eight within two minutes at most, of which six are allowed.
    assert 429 in {client.get("/api/v1/settings").status_code for _ in range(8)}
    assert other.get("/api/v1/settings").status_code == 200
