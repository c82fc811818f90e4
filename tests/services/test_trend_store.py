from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from tests.builders import MORNING, athlete, estimate, part
from trainlog.load.draws import standard_normals
from trainlog.models import LoadEstimate, Part, TrendWeek, UnknownDay, Workout
from trainlog.services.trend_bytes import held_in_weeks, state_of, weeks_of
from trainlog.services.trend_store import forget_other_trends, keep_trend, logged_days

REST_WEEKS = 4
"""Kept after the last workout: the longest window has 28 days."""

pytestmark = pytest.mark.django_db

MONDAY = MORNING.date()
SOURCE = "fit 1"


@pytest.fixture
def ana():
    owner = athlete()
    owner.current_source = SOURCE
    owner.save()
    return owner


def trained(owner, day, load=100.0, **fields):
    made = part(owner, MORNING + timedelta(days=day))
    return estimate(made, load * np.exp(0.1 * standard_normals(f"day {day}")), **fields)


def stored(owner, **wanted):
    rows = TrendWeek.objects.of(owner).filter(**wanted).order_by("measure", "source", "monday")
    return [
        (row.measure, row.source, row.monday, bytes(row.inputs), bytes(row.figures), bytes(row.state))
        for row in rows
    ]


def keys(owner):
    return {row.monday: row.pk for row in TrendWeek.objects.of(owner)}


def kept_anew(owner):
    """All weeks, computed from nothing."""
    TrendWeek.objects.of(owner).delete()
    keep_trend(owner, SOURCE)
    return stored(owner)


def test_the_weeks_run_from_the_first_workout_until_every_window_is_rest(ana):
    trained(ana, 2)
    trained(ana, 15)
    keep_trend(ana, SOURCE)
    weeks = [MONDAY + timedelta(days=7 * week) for week in range(3 + REST_WEEKS)]
    assert [row[2] for row in stored(ana)] == weeks


def test_a_log_without_workouts_or_estimates_keeps_nothing(ana):
    keep_trend(ana, SOURCE)
    part(ana)
    keep_trend(ana, SOURCE)
    assert stored(ana) == []


def test_keeping_again_writes_nothing(ana):
    for day in (0, 3, 9):
        trained(ana, day)
    keep_trend(ana, SOURCE)
    before = keys(ana)
    keep_trend(ana, SOURCE)
    assert keys(ana) == before


def test_a_change_to_one_workout_rewrites_only_the_weeks_from_its_own_on(ana):
    for day in range(0, 70, 2):
        trained(ana, day)
    keep_trend(ana, SOURCE)
    before = keys(ana)
    changed = LoadEstimate.objects.get(part__workout__day=MONDAY + timedelta(days=30))
    changed.delete()
    estimate(changed.part, 250.0)
    keep_trend(ana, SOURCE)
    after = keys(ana)
    own_week = MONDAY + timedelta(days=28)
    assert {monday: key for monday, key in after.items() if monday < own_week} == {
        monday: key for monday, key in before.items() if monday < own_week
    }
    assert all(after[monday] != before[monday] for monday in after if monday >= own_week)
    assert stored(ana) == kept_anew(ana)


def test_a_rating_that_moves_no_load_is_kept_with_its_week(ana):
    trained(ana, 0)
    trained(ana, 9)
    keep_trend(ana, SOURCE)
    Part.objects.filter(workout__day=MONDAY).update(session_rpe=5)
    keep_trend(ana, SOURCE)
    assert held_in_weeks(weeks_of([stored(ana)[0][4]])).session_rpe_load == 300


def test_weeks_that_no_longer_belong_are_removed(ana):
    for day in (0, 20, 60):
        trained(ana, day)
    keep_trend(ana, SOURCE)
    Workout.objects.of(ana).filter(day=MONDAY + timedelta(days=60)).delete()
    Workout.objects.of(ana).filter(day=MONDAY).delete()
    keep_trend(ana, SOURCE)
    weeks = range(2, 3 + REST_WEEKS)
    assert [row[2] for row in stored(ana)] == [MONDAY + timedelta(days=7 * week) for week in weeks]
    assert stored(ana) == kept_anew(ana)


def test_an_earlier_first_workout_moves_all_that_follows(ana):
    trained(ana, 9)
    keep_trend(ana, SOURCE)
    trained(ana, 1)
    keep_trend(ana, SOURCE)
    assert stored(ana) == kept_anew(ana)


@pytest.mark.parametrize("name", ["acute_days", "chronic_days", "slow_days", "fast_days"])
def test_another_span_moves_every_week(ana, name):
    trained(ana, 0)
    trained(ana, 8)
    keep_trend(ana, SOURCE)
    before = keys(ana)
    setattr(ana, name, 10)
    ana.save()
    keep_trend(ana, SOURCE)
    assert not set(before.values()) & set(keys(ana).values())
    assert stored(ana) == kept_anew(ana)


def test_the_order_in_which_workouts_came_does_not_matter():
    kept = []
    for name, days in (("ana", (0, 5, 5.1, 5.2, 11)), ("bo", (11, 5.2, 0, 5.1, 5))):
        owner = athlete(name, seed=7)
        owner.current_source = SOURCE
        owner.save()
        for day in days:
            trained(owner, day, load=10 + day)
        UnknownDay.objects.create(owner=owner, day=MONDAY + timedelta(days=8))
        keep_trend(owner, SOURCE)
        kept.append(stored(owner))
    assert kept[0] == kept[1]


def test_an_unknown_day_is_drawn_and_a_day_without_a_mark_is_rest(ana):
    for day in range(7):
        trained(ana, day)
    UnknownDay.objects.create(owner=ana, day=MONDAY + timedelta(days=7))
    found = logged_days(ana, "trimp", SOURCE)
    assert found.unknown.nonzero()[0].tolist() == [7]
    assert found.daily[7].min() > 50
    assert not found.daily[8].any()


def test_taking_a_mark_back_makes_the_day_rest_again(ana):
    for day in range(7):
        trained(ana, day)
    keep_trend(ana, SOURCE)
    before = stored(ana)
    mark = UnknownDay.objects.create(owner=ana, day=MONDAY + timedelta(days=8))
    keep_trend(ana, SOURCE)
    assert stored(ana)[1] != before[1]
    mark.delete()
    keep_trend(ana, SOURCE)
    assert stored(ana) == before


def test_a_marked_day_far_from_any_workout_prolongs_nothing(ana):
    trained(ana, 0)
    UnknownDay.objects.create(owner=ana, day=date(2900, 1, 1))
    UnknownDay.objects.create(owner=ana, day=date(1971, 1, 1))
    keep_trend(ana, SOURCE)
    assert len(stored(ana)) == 1 + REST_WEEKS


def test_a_part_without_an_estimate_makes_its_day_unknown_and_not_rest(ana):
    for day in range(7):
        trained(ana, day)
    part(ana, MORNING + timedelta(days=7))
    found = logged_days(ana, "trimp", SOURCE)
    assert found.unknown[7]
    assert found.daily[7].min() > 50


def test_every_measure_that_has_estimates_is_kept_by_itself(ana):
    row = trained(ana, 0)
    estimate(row.part, 300.0, measure="session_rpe")
    keep_trend(ana, SOURCE)
    totals = {row[0]: held_in_weeks(weeks_of([row[4]])).total.median for row in stored(ana, monday=MONDAY)}
    assert totals == {"trimp": pytest.approx(100, rel=0.01), "session_rpe": 300}
    LoadEstimate.objects.filter(measure="session_rpe").delete()
    keep_trend(ana, SOURCE)
    assert {row[0] for row in stored(ana)} == {"trimp"}


def test_only_the_trend_of_the_source_on_show_is_kept_in_the_end(ana):
    row = trained(ana, 0)
    estimate(row.part, 60.0, source="fit 2")
    for source in (SOURCE, "fit 2"):
        keep_trend(ana, source)
    assert {row[1] for row in stored(ana)} == {SOURCE, "fit 2"}
    forget_other_trends(ana, "fit 2")
    assert {row[1] for row in stored(ana)} == {"fit 2"}


def test_the_trend_of_another_athlete_is_left_alone(ana):
    bo = athlete("bo")
    trained(bo, 0, source=SOURCE)
    keep_trend(bo, SOURCE)
    trained(ana, 3)
    keep_trend(ana, SOURCE)
    forget_other_trends(ana, "none")
    assert (len(stored(bo)), stored(ana)) == (1 + REST_WEEKS, [])


def test_a_workout_counts_on_its_local_day():
    ana = athlete("ana", time_zone="Pacific/Auckland")
    trained(ana, 0, source=SOURCE)
    assert logged_days(ana, "trimp", SOURCE).first == Workout.objects.of(ana).get().day


class Histories(TestCase):
    @settings(max_examples=15, suppress_health_check=[HealthCheck.too_slow])
    @given(st.data())
    def test_after_any_changes_the_kept_weeks_are_equal_to_the_bit_to_a_full_computation(self, data):
        ana = athlete()
        ana.current_source = SOURCE
        ana.save()
        some_days = st.lists(st.integers(0, 60), min_size=1, max_size=8, unique=True)
        for day in data.draw(some_days):
            trained(ana, day)
        keep_trend(ana, SOURCE)
        for day in data.draw(some_days):
            there = Workout.objects.of(ana).filter(day=MONDAY + timedelta(days=day))
            what = data.draw(st.sampled_from(["train", "delete", "mark"]))
            if what == "train":
                trained(ana, day, load=50.0)
            elif what == "delete":
                there.delete()
            else:
                UnknownDay.objects.get_or_create(owner=ana, day=MONDAY + timedelta(days=day))
            if data.draw(st.booleans()):
                keep_trend(ana, SOURCE)
        keep_trend(ana, SOURCE)
        assert stored(ana) == kept_anew(ana)


def test_the_state_is_kept_in_full_precision(ana):
    trained(ana, 0)
    keep_trend(ana, SOURCE)
    state = state_of(stored(ana)[0][5])
    load = logged_days(ana, "trimp", SOURCE).daily[0]
    expected = load
    for _ in range(6):
        expected = 0.75 * expected
    assert np.array_equal(state.acute, expected)
