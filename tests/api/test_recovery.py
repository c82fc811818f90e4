from datetime import timedelta

import pytest
from django.utils import timezone

from tests.builders import MORNING, athlete, estimate, intensity, part, send
from trainlog.models import CheckIn
from trainlog.services.recovery_check import claims_of

pytestmark = pytest.mark.django_db


def session(owner, start=MORNING, **in_domains):
    made = part(owner, start, 60)
    estimate(made, 100.0)
    intensity(made, **in_domains)
    return made.workout


def test_recovery_of_each_workout_is_listed_with_its_interval(signed_in, ana):
    workout = session(ana, high=60)
    (answer,) = signed_in.get("/api/recovery?from=2026-03-01&to=2026-03-05").json()
    assert answer["workout"] == workout.pk
    assert 48 <= answer["hours"]["low"] <= answer["hours"]["median"] <= answer["hours"]["high"] <= 72
    assert answer["outdated"] is False


def test_only_ones_own_recovery_is_listed(signed_in):
    session(athlete("ben"), high=60)
    assert signed_in.get("/api/recovery?from=2026-03-01&to=2026-03-05").json() == []


def test_now_is_nothing_where_no_session_is_recent(signed_in, ana):
    session(ana, high=60)
    assert signed_in.get("/api/recovery/now").json() is None


def test_now_names_the_session_that_takes_longest(signed_in, ana):
    workout = session(ana, timezone.now() - timedelta(hours=10), high=60)
    answer = signed_in.get("/api/recovery/now").json()
    assert answer["longest"]["workout"] == workout.pk
    assert answer["hours"]["median"] < answer["longest"]["hours"]["median"]
    assert answer["per_cent_ready"] == 5


def test_claimed_hours_are_noted_one_kind_at_a_time_and_taken_back(signed_in, ana):
    workout = session(ana)
    address = f"/api/workouts/{workout.pk}/claimed-recovery"
    assert send(signed_in, "PATCH", address, {"wrist": 24}).json() == {"wrist": 24, "strap": None}
    assert send(signed_in, "PATCH", address, {"strap": 40}).json() == {"wrist": 24, "strap": 40}
    assert send(signed_in, "PATCH", address, {"wrist": None}).json() == {"wrist": None, "strap": 40}
    assert claims_of(workout) == {"strap": 40}


@pytest.mark.parametrize("hours", [{"wrist": -1}, {"strap": 20, "wrist": 300}, {"ring": 3}])
def test_hours_that_cannot_be_are_refused(signed_in, ana, hours):
    workout = session(ana)
    answer = send(signed_in, "PATCH", f"/api/workouts/{workout.pk}/claimed-recovery", hours)
    assert answer.status_code == 422
    assert claims_of(workout) == {}


def test_sessions_that_mornings_showed_are_listed_with_how_the_estimate_stood(signed_in, ana):
    workout = session(ana, timezone.now() - timedelta(hours=80), low=60)
    for back in range(1, 40):
        day = workout.day + timedelta(days=3 - back)
        CheckIn.objects.create(owner=ana, day=day, resting_rate=50 + back % 2)
    (one,) = signed_in.get("/api/recovery/check").json()
    assert one["estimated"]["workout"] == workout.pk
    assert one["mornings_say"] in {"earlier", "within"}
    assert one["back_by"] > one["not_back_after"] == 0
