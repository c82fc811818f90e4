"""Programs with a token: what they reach, and what they are refused."""

from datetime import timedelta

import pytest
from django.test import Client
from django.utils import timezone

from tests.builders import athlete, send
from trainlog.models import ApiToken
from trainlog.services.tokens import make_token

pytestmark = pytest.mark.django_db

TYPED = {"start": "2026-03-02T06:30:00Z", "minutes": 40, "activity": "run", "session_rpe": 5}


def program(owner, scope):
    """Client of a program, which checks CSRF tokens as a server does and sends none."""
    secret = make_token(owner, "my script", scope, 30).secret
    return Client(headers={"Authorization": f"Bearer {secret}"}, enforce_csrf_checks=True)


def test_a_token_that_may_change_something_does_so_without_a_csrf_token(ana):
    answer = send(program(ana, "write"), "POST", "/api/workouts", TYPED)
    assert answer.status_code == 201
    assert program(ana, "read").get("/api/workouts").json()["results"][0]["id"] == answer.json()["id"]


def test_a_token_that_may_read_is_refused_every_change(ana):
    answer = send(program(ana, "read"), "POST", "/api/workouts", TYPED)
    assert answer.status_code == 403
    assert answer.json()["detail"] == "This token may only read."


def test_an_expired_token_is_nobodys(ana):
    client = program(ana, "write")
    ApiToken.objects.update(expires_at=timezone.now() - timedelta(seconds=1))
    answer = client.get("/api/workouts")
    assert answer.status_code == 401
    assert answer["WWW-Authenticate"] == "Bearer"


def test_a_wrong_token_is_refused_even_beside_a_session(ana):
    client = Client(headers={"Authorization": "Bearer tl_wrong"})
    client.force_login(ana.user)
    assert client.get("/api/workouts").status_code == 401


def test_a_token_goes_before_the_session_of_another(ana):
    client = program(ana, "write")
    client.force_login(athlete("ben").user)
    made = send(client, "POST", "/api/workouts", TYPED).json()["id"]
    assert program(ana, "read").get(f"/api/workouts/{made}").status_code == 200


def test_a_token_opens_no_page(ana):
    assert program(ana, "write").get("/").status_code == 302


def test_the_document_of_the_api_names_both_ways_in(signed_in):
    schemes = signed_in.get("/api/openapi.json").json()["components"]["securitySchemes"]
    assert {"Token", "SignedIn"} == set(schemes)
