"""Two programs that change the same thing: neither undoes what it has not seen (RFC 9110, section 13)."""

from datetime import date

import pytest
from django.test import Client

from tests.builders import MORNING, activity_of, athlete, part
from trainlog.models import LiftSet, PlannedSession, Stay, Workout
from trainlog.services.tokens import make_token

pytestmark = pytest.mark.django_db

DAY = MORNING.date()


def program(owner, scope="write"):
    """A program with a token of its own."""
    secret = make_token(owner, "a program", scope, 30).secret
    return Client(headers={"Authorization": f"Bearer {secret}"})


def ask(client, method, address, body=None, **headers):
    named = {name.replace("_", "-"): value for name, value in headers.items()}
    return client.generic(
        method, address, b"" if body is None else body, content_type="application/json", headers=named
    )


@pytest.fixture
def workout(ana):
    return f"/api/v1/workouts/{part(ana).workout_id}"


def test_what_is_known_already_is_not_sent_again(ana, workout):
    shown = program(ana).get(workout)
    again = ask(program(ana), "GET", workout, If_None_Match=shown["ETag"])
    assert (again.status_code, again.content, again["ETag"]) == (304, b"", shown["ETag"])
    ask(program(ana), "PATCH", workout, b'{"note": "new"}')
    assert ask(program(ana), "GET", workout, If_None_Match=shown["ETag"]).status_code == 200


def test_of_two_programs_that_saw_the_same_only_the_first_changes_it(ana, workout):
    one, other = program(ana), program(ana)
    seen_by_one, seen_by_other = one.get(workout)["ETag"], other.get(workout)["ETag"]
    assert ask(one, "PATCH", workout, b'{"note": "one"}', If_Match=seen_by_one).status_code == 200
    refused = ask(other, "PATCH", workout, b'{"note": "other"}', If_Match=seen_by_other)
    assert (refused.status_code, refused.json()["title"]) == (412, "Changed meanwhile")
    assert Workout.objects.get().note == "one"
    seen_now = other.get(workout)["ETag"]
    assert ask(other, "PATCH", workout, b'{"note": "other"}', If_Match=seen_now).status_code == 200
    assert Workout.objects.get().note == "other"


def test_what_changed_meanwhile_is_not_deleted(ana, workout):
    seen = program(ana).get(workout)["ETag"]
    ask(program(ana), "PATCH", workout, b'{"note": "worth keeping"}')
    assert ask(program(ana), "DELETE", workout, If_Match=seen).status_code == 412
    assert Workout.objects.get().note == "worth keeping"


def test_a_tag_that_packing_made_weak_still_says_what_was_seen(ana, workout):
    seen = program(ana).get(workout)["ETag"]
    assert ask(program(ana), "PATCH", workout, b"{}", If_Match=f"W/{seen}").status_code == 200


def test_a_morning_is_noted_only_if_nothing_is_noted_of_it(ana):
    address = f"/api/v1/check-ins/{DAY}"
    assert ask(program(ana), "PUT", address, b'{"note": "first"}', If_None_Match="*").status_code == 200
    assert ask(program(ana), "PUT", address, b'{"note": "second"}', If_None_Match="*").status_code == 412
    assert program(ana).get(address).json()["note"] == "first"


def test_a_tag_of_what_is_not_there_changes_nothing(ana):
    address = f"/api/v1/check-ins/{DAY}"
    assert ask(program(ana), "PUT", address, b'{"note": "x"}', If_Match='"abc"').status_code == 412
    assert program(ana).get(address).status_code == 404


def test_a_refused_change_under_a_tag_leaves_all_as_it_was(ana, workout):
    seen = program(ana).get(workout)["ETag"]
    body = b'{"note": "new", "tags": ["a,b"]}'
    assert ask(program(ana), "PATCH", workout, body, If_Match=seen).status_code == 422
    assert program(ana).get(workout)["ETag"] == seen


def test_a_tag_opens_nothing_to_others_or_to_a_token_that_may_only_read(ana, workout):
    seen = program(ana).get(workout)["ETag"]
    assert ask(program(athlete("ben")), "DELETE", workout, If_Match=seen).status_code == 404
    assert ask(program(ana, "read"), "DELETE", workout, If_Match=seen).status_code == 403
    assert ask(Client(), "DELETE", workout, If_Match=seen).status_code == 401
    assert Workout.objects.count() == 1


def test_the_answer_to_a_change_has_the_tag_that_is_shown_next(ana, workout):
    of = part(ana, MORNING.replace(hour=18))
    run = activity_of(ana, "run")
    planned = PlannedSession.objects.create(owner=ana, day=DAY, activity=run)
    line = LiftSet.objects.create(owner=ana, part=of, place=0, exercise="squat", repetitions=5)
    changes = {
        workout: ("PATCH", b'{"note": "x"}'),
        f"/api/v1/parts/{of.pk}": ("PATCH", b'{"session_rpe": 5}'),
        f"/api/v1/sets/{line.pk}": ("PATCH", b'{"sets": 4}'),
        f"/api/v1/planned-sessions/{planned.pk}": ("PATCH", b'{"hard": true}'),
        f"/api/v1/check-ins/{DAY}": ("PUT", b'{"note": "x"}'),
        f"/api/v1/unknown-days/{DAY}": ("PUT", b'{"note": "x"}'),
        f"/api/v1/weeks/{DAY}/plan": ("PUT", b'{"low": 100}'),
        f"{workout}/claimed-recovery": ("PATCH", b'{"wrist": 20}'),
        "/api/v1/settings": ("PATCH", b'{"acute_days": 6}'),
    }
    for address, (method, body) in changes.items():
        changed = ask(program(ana), method, address, body)
        assert changed.status_code == 200, address
        assert changed["ETag"] == program(ana).get(address)["ETag"], address


def test_a_stay_is_deleted_as_it_was_seen(ana):
    stay = Stay.objects.create(
        owner=ana, time_zone="Asia/Tokyo", first_day=date(2026, 4, 1), last_day=date(2026, 4, 2)
    )
    address = f"/api/v1/stays/{stay.pk}"
    seen = program(ana).get(address)["ETag"]
    assert ask(program(ana), "DELETE", address, If_Match=seen).status_code == 204
    assert program(ana).get(address).status_code == 404
