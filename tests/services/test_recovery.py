"""Recovery of sessions and of now, checked by mornings."""

from datetime import timedelta

import numpy as np
import pytest
from django.core.exceptions import ValidationError

from tests import builders
from tests.builders import MORNING
from trainlog.load.draws import DRAWS, standard_normals
from trainlog.models import CheckIn, ClaimedRecovery, Measure
from trainlog.services.recovery import recoveries_between, recovery_now, recovery_of, usual_daily_loads
from trainlog.services.recovery_check import claim_recovery, claims_of, recovery_check
from trainlog.services.trend_store import keep_trend

pytestmark = pytest.mark.django_db

HOUR, DAY = timedelta(hours=1), timedelta(days=1)


def session(owner, start=MORNING, minutes=60, load=60.0, **in_domains):
    part = builders.part(owner, start, minutes)
    builders.estimate(part, load)
    builders.intensity(part, **(in_domains or {"low": minutes}))
    return part.workout


def test_an_easy_session_holds_back_less_than_a_hard_one(ana):
    easy = recovery_of(session(ana))
    hard = recovery_of(session(ana, MORNING + DAY, load=120, low=30, threshold=10, high=20))
    assert easy.range[2] <= 24
    assert hard.range[0] >= 48


def test_ready_instants_are_counted_from_the_end_of_the_session(ana):
    found = recovery_of(session(ana))
    low, _, high = found.range
    assert found.ready == (
        found.workout.end + timedelta(hours=low),
        found.workout.end + timedelta(hours=high),
    )


def test_a_workout_of_two_parts_counts_as_a_whole(ana):
    workout = session(ana, minutes=30, load=30.0, low=30)
    part = workout.parts.get()
    part.pk, part.start, part.end = None, part.end, part.end + 30 * timedelta(minutes=1)
    part.save()
    builders.estimate(part, 90.0)
    builders.intensity(part, high=20)
    workout.end = part.end
    workout.save()
    assert recovery_of(workout).range[0] >= 48


def test_a_workout_of_which_a_part_has_no_load_yet_is_not_told(ana):
    assert recovery_of(builders.part(ana).workout) is None


def test_the_load_is_set_against_the_chronic_load_at_the_end_of_the_week_before(ana):
    for day in range(28):
        session(ana, MORNING + day * DAY, load=40.0)
    usual, heavy = session(ana, MORNING + 28 * DAY, load=40.0), session(ana, MORNING + 29 * DAY, load=160.0)
    keep_trend(ana, ana.current_source)
    (usual_load,) = usual_daily_loads(ana, Measure.TRIMP, heavy.day, heavy.day).values()
    assert usual_load == pytest.approx(np.full(DRAWS, 40.0))
    assert recovery_of(heavy).range[1] > recovery_of(usual).range[1] + 4


def test_a_sessions_own_week_does_not_move_what_it_is_set_against(ana):
    for day in range(14):
        session(ana, MORNING + day * DAY, load=40.0)
    workout = session(ana, MORNING + 14 * DAY, load=80.0)
    keep_trend(ana, ana.current_source)
    before = recovery_of(workout).hours
    session(ana, MORNING + 16 * DAY, load=400.0)
    keep_trend(ana, ana.current_source)
    assert np.array_equal(recovery_of(workout).hours, before)


def test_a_doubtful_load_widens_the_range(ana):
    certain = recovery_of(session(ana, load=60.0))
    doubtful = recovery_of(session(ana, MORNING + DAY, load=60.0 * np.exp(0.9 * standard_normals("d"))))
    keep_trend(ana, ana.current_source)
    spread = [one.range[2] - one.range[0] for one in (certain, doubtful)]
    assert spread[1] >= spread[0]


def test_now_is_what_is_left_of_the_session_that_takes_longest(ana):
    hard = session(ana, load=120, high=30, low=30)
    session(ana, MORNING + DAY, minutes=30, load=20.0)
    found = recovery_now(ana, hard.end + 40 * HOUR)
    assert found.longest.workout.pk == hard.pk
    assert found.range[1] == pytest.approx(recovery_of(hard).range[1] - 40, abs=0.01)


def test_after_three_days_nothing_holds_back(ana):
    workout = session(ana, high=60)
    assert recovery_now(ana, workout.end + 73 * HOUR) is None


def test_a_session_that_has_not_ended_does_not_count_yet(ana):
    workout = session(ana)
    assert recovery_now(ana, workout.start + timedelta(minutes=5)) is None


def test_recoveries_are_listed_oldest_first_and_only_the_owners(ana):
    session(ana, MORNING + DAY)
    session(ana)
    session(builders.athlete("ben"), MORNING)
    found = recoveries_between(ana, MORNING.date(), (MORNING + DAY).date())
    assert [one.workout.start for one in found] == [MORNING, MORNING + DAY]


def test_the_number_of_queries_does_not_grow_with_the_sessions(ana, django_assert_num_queries):
    for day in range(3):
        session(ana, MORNING + day * DAY)
    with django_assert_num_queries(4):
        recoveries_between(ana, MORNING.date(), (MORNING + DAY).date())
    with django_assert_num_queries(4):
        recoveries_between(ana, MORNING.date(), (MORNING + 9 * DAY).date())


def mornings(owner, days, rate=50.0, rmssd=60.0):
    for day in days:
        wave = 1.0 if day % 2 else -1.0
        CheckIn.objects.create(
            owner=owner,
            day=(MORNING + timedelta(days=day)).date(),
            resting_rate=rate + wave,
            rmssd=rmssd * np.exp(0.05 * wave / 1.1),
        )


def test_mornings_outside_the_band_and_back_again_bound_the_observed_hours(ana):
    mornings(ana, range(-30, 1))
    mornings(ana, [1], rate=60.0, rmssd=35.0)
    mornings(ana, [2])
    session(ana, load=120.0, high=30, low=30)
    (one,) = recovery_check(ana, (MORNING + 3 * DAY).date()).sessions
    assert (one.observed.after, one.observed.by) == (pytest.approx(23.5), pytest.approx(47.5))
    assert one.fit == "earlier"


def test_a_session_followed_by_another_before_any_morning_is_not_checked(ana):
    mornings(ana, range(-30, 4))
    session(ana)
    session(ana, MORNING + 4 * HOUR)
    check = recovery_check(ana, (MORNING + 3 * DAY).date())
    assert [one.recovery.workout.start for one in check.sessions] == [MORNING + 4 * HOUR]


def test_a_session_is_not_checked_by_mornings_after_another_that_has_no_load_yet(ana):
    mornings(ana, range(-30, 4))
    session(ana)
    builders.part(ana, MORNING + 4 * HOUR)
    assert recovery_check(ana, (MORNING + 3 * DAY).date()).sessions == []


def test_without_a_usual_band_nothing_is_checked(ana):
    mornings(ana, range(-5, 3))
    session(ana)
    assert recovery_check(ana, (MORNING + 3 * DAY).date()).sessions == []


def test_claimed_hours_are_kept_one_of_each_kind_and_taken_back(ana):
    workout = session(ana)
    claim_recovery(workout, "wrist", 24)
    claim_recovery(workout, "wrist", 30)
    claim_recovery(workout, "strap", 48)
    assert claims_of(workout) == {"wrist": 30, "strap": 48}
    claim_recovery(workout, "wrist", None)
    assert claims_of(workout) == {"strap": 48}


@pytest.mark.parametrize(("fed_by", "hours"), [("wrist", -1), ("wrist", 241), ("ring", 3), ("wrist", np.nan)])
def test_hours_that_cannot_be_are_refused(ana, fed_by, hours):
    with pytest.raises(ValidationError):
        claim_recovery(session(ana), fed_by, hours)
    assert not ClaimedRecovery.objects.exists()
