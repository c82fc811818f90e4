import json
from datetime import UTC, datetime, timedelta

import pytest
from django.test import Client

from tests.builders import MORNING, activity_of, estimate, part
from trainlog.load.draws import standard_normals
from trainlog.models import PlannedSession, WeekPlan

pytestmark = pytest.mark.django_db

DAY = MORNING.date().isoformat()


@pytest.fixture
def client(ana):
    """Someone signed in."""
    signed_in = Client()
    signed_in.force_login(ana.user)
    return signed_in


def send(client, method, address, **body):
    return client.generic(method, f"/api/{address}", json.dumps(body), content_type="application/json")


def test_a_load_is_planned_shown_and_taken_back(client, ana):
    answer = send(client, "PUT", "weeks/2026-03-05/plan", low=300, note="steady")
    assert answer.status_code == 200
    assert answer.json() == client.get(f"/api/weeks/{DAY}/plan").json()
    shown = answer.json()
    assert (shown["monday"], shown["measure"], shown["low"], shown["high"]) == (DAY, "trimp", 300, None)
    assert (shown["note"], shown["load"], shown["likely"], shown["sessions"]) == ("steady", None, None, [])
    assert client.delete(f"/api/weeks/{DAY}/plan").status_code == 204
    assert not WeekPlan.objects.of(ana).exists()
    assert client.get(f"/api/weeks/{DAY}/plan").json()["low"] is None


def test_the_likely_load_is_given_on_each_side_that_has_an_end(client, ana):
    estimate(part(ana), 100 + 10 * standard_normals("run"))
    send(client, "PUT", f"weeks/{DAY}/plan", low=100)
    shown = client.get(f"/api/weeks/{DAY}/plan").json()
    assert shown["likely"] == {"below_per_cent": 50, "within_per_cent": 50, "above_per_cent": None}
    assert shown["load"]["median"] == pytest.approx(100)
    assert shown["to_low"] is None


def test_the_running_week_says_what_is_open(client, ana):
    send(client, "PUT", f"weeks/{ana.today()}/plan", low=100, high=200)
    shown = client.get(f"/api/weeks/{ana.today()}/plan").json()
    assert (shown["to_low"]["median"], shown["to_high"]["high"]) == (100, 200)


@pytest.mark.parametrize(
    ("planned", "words"),
    [
        ({}, "Enter the least load"),
        ({"low": 5, "high": 4}, "must not exceed"),
        ({"high": -1}, "between 0 and 100,000"),
        ({"goal": 3}, "goal"),
    ],
)
def test_a_range_that_is_none_is_explained_and_not_kept(client, ana, planned, words):
    answer = send(client, "PUT", f"weeks/{DAY}/plan", **planned)
    assert answer.status_code == 422
    assert words in answer.json()["detail"]
    assert not WeekPlan.objects.of(ana).exists()


def test_a_session_is_planned_changed_and_taken_back(client, ana):
    answer = send(client, "POST", "planned-sessions", day=DAY, activity="run", minutes=60, hard=True)
    assert answer.status_code == 201
    made = answer.json()
    assert (made["day"], made["activity"], made["minutes"], made["hard"]) == (DAY, "run", 60, True)
    assert (made["state"], made["part"]) == ("missed", None)
    changed = send(client, "PATCH", f"planned-sessions/{made['id']}", activity="ride", minutes=None).json()
    assert (changed["activity"], changed["minutes"], changed["hard"], changed["day"]) == (
        "ride",
        None,
        True,
        DAY,
    )
    assert client.delete(f"/api/planned-sessions/{made['id']}").status_code == 204
    assert not PlannedSession.objects.of(ana).exists()
    assert client.delete(f"/api/planned-sessions/{made['id']}").status_code == 404


def test_a_session_that_is_done_names_its_workout(client, ana):
    done = part(ana)
    made = send(client, "POST", "planned-sessions", day=DAY, activity="run").json()
    assert (made["state"], made["part"], made["workout"]) == ("done", done.pk, done.workout_id)


def test_sessions_of_a_range_are_listed_oldest_first(client, ana):
    for offset in (3, 0, 1, -1):
        day = MORNING.date() + timedelta(days=offset)
        PlannedSession.objects.create(owner=ana, day=day, activity=activity_of(ana, "run"))
    listed = client.get(f"/api/planned-sessions?from={DAY}&to=2026-03-04").json()
    assert [session["day"] for session in listed] == [DAY, "2026-03-03"]


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"activity": "chess"}, "no activity “chess”"),
        ({"minutes": 0}, "between one minute and 24 hours"),
        ({"minutes": -5}, "between one minute and 24 hours"),
        ({"day": "2026-02-30"}, "day"),
        ({"sets": 3}, "sets"),
    ],
)
def test_a_session_that_cannot_be_is_explained_and_not_kept(client, ana, wrong, words):
    answer = send(client, "POST", "planned-sessions", **({"day": DAY, "activity": "run"} | wrong))
    assert answer.status_code == 422
    assert words in answer.json()["detail"]
    assert not PlannedSession.objects.of(ana).exists()


@pytest.mark.parametrize("field", ["day", "activity", "hard", "note"])
def test_what_a_session_needs_cannot_be_taken_from_it(client, ana, field):
    session = PlannedSession.objects.create(
        owner=ana, day=MORNING.date(), activity=activity_of(ana, "run"), note="hills"
    )
    answer = send(client, "PATCH", f"planned-sessions/{session.pk}", **{field: None})
    assert answer.status_code == 422
    session.refresh_from_db()
    assert (session.day, session.note) == (MORNING.date(), "hills")


def test_planning_needs_the_token(ana):
    strict = Client(enforce_csrf_checks=True)
    strict.force_login(ana.user)
    assert send(strict, "PUT", f"weeks/{DAY}/plan", low=1).status_code == 403
    assert send(strict, "POST", "planned-sessions", day=DAY, activity="run").status_code == 403


def test_years_give_totals_and_the_months_of_one(client, ana):
    for year, load in ((2024, 40.0), (2025, 60.0)):
        estimate(part(ana, datetime(year, 5, 1, 8, tzinfo=UTC), 90), load)
    found = client.get("/api/years").json()
    newest = found["years"][0]
    assert [span["first"] for span in found["years"]] == ["2025-01-01", "2024-01-01"]
    assert (newest["workouts"], newest["hours"], newest["load"]["median"]) == (1, 1.5, 60)
    assert (newest["hours_by_family"], newest["share_by_basis"]) == ({"steady": 1.5}, {"corrected": 100})
    assert found["measure"] == "trimp"
    chosen = client.get("/api/years?year=2024").json()["months"]
    assert (chosen[0]["first"], chosen[0]["load"]["median"], len(chosen)) == ("2024-05-01", 40, 8)


def test_an_empty_log_has_no_years(client):
    found = client.get("/api/years").json()
    assert (found["years"], found["months"], found["against_last"]) == ([], [], None)
