# mypy: disable-error-code="union-attr"

from datetime import UTC, date, datetime, timedelta

import pytest
from django.core.exceptions import ValidationError

from tests.builders import MORNING, activity_of, athlete, estimate, part
from trainlog.load.draws import standard_normals
from trainlog.models import LoadEstimate, PlannedSession, UnknownDay, WeekPlan
from trainlog.services.plan import (
    clear_range,
    plan_of_week,
    planned_lines,
    range_of,
    repeat_week,
    save_session,
    set_range,
)
from trainlog.services.plan_matching import State

pytestmark = pytest.mark.django_db

MONDAY = MORNING.date()
SUNDAY = MONDAY + timedelta(days=6)
WEEK = timedelta(days=7)


def planned(owner, day=MONDAY, activity="run", **fields):
    return save_session(
        PlannedSession(owner=owner), {"day": day, "activity": activity_of(owner, activity)} | fields
    )


def days_of(owner):
    return [session.day for session in PlannedSession.objects.of(owner)]


def test_a_week_has_one_range_whichever_day_names_it(ana):
    set_range(ana, SUNDAY, 300, 400)
    set_range(ana, MONDAY, 200, None, "easy")
    kept = WeekPlan.objects.of(ana).get()
    assert (kept.monday, kept.low, kept.high, kept.note) == (MONDAY, 200, None, "easy")


def test_a_range_belongs_to_the_measure_the_athlete_goes_by(ana):
    set_range(ana, MONDAY, 300, 400)
    ana.measure = "zones"
    assert range_of(ana, MONDAY) is None
    set_range(ana, MONDAY, 100, 200)
    clear_range(ana, MONDAY)
    assert WeekPlan.objects.of(ana).get().measure == "trimp"


@pytest.mark.parametrize(("low", "high"), [(None, None), (2, 1), (-1, None), (None, 1e6)])
def test_a_range_that_is_none_leaves_the_one_before(ana, low, high):
    set_range(ana, MONDAY, 300, 400)
    with pytest.raises(ValidationError):
        set_range(ana, MONDAY, low, high)
    assert range_of(ana, MONDAY).low == 300


def test_a_session_longer_than_a_day_is_refused(ana):
    with pytest.raises(ValidationError, match="24 hours"):
        planned(ana, minutes=1441)
    assert days_of(ana) == []


def test_a_session_is_done_once_a_workout_of_its_local_day_has_a_part_of_it():
    owner = athlete("far", time_zone="Pacific/Auckland")
    planned(owner, MONDAY)
    planned(owner, MONDAY + timedelta(days=1))
    late_on_monday_in_utc = part(owner, datetime(2026, 3, 2, 20, 0, tzinfo=UTC))
    first, second = planned_lines(owner, MONDAY, SUNDAY, SUNDAY)
    assert (first.state, second.state, second.part) == (State.MISSED, State.DONE, late_on_monday_in_utc)


def test_another_activity_of_the_family_counts_as_done_otherwise(ana):
    planned(ana, activity="ride")
    part(ana, activity="run")
    (line,) = planned_lines(ana, MONDAY, SUNDAY, SUNDAY)
    assert line.state == State.OTHERWISE


def test_what_another_athlete_did_meets_nothing(ana):
    planned(ana)
    part(athlete("ben"))
    (line,) = planned_lines(ana, MONDAY, SUNDAY, SUNDAY)
    assert line.state == State.MISSED
    assert planned_lines(athlete("eve"), MONDAY, SUNDAY, SUNDAY) == []


def test_a_load_is_set_against_the_range_by_its_draws(ana):
    set_range(ana, MONDAY, 100, 300)
    estimate(part(ana), 100 + 10 * standard_normals("run"))
    found = plan_of_week(ana, MONDAY, SUNDAY + WEEK)
    assert (found.likely.below, found.likely.within, found.likely.above) == (50, 50, 5)
    assert (found.to_low, found.to_high) == (None, None)


def test_the_running_week_says_what_is_open(ana):
    set_range(ana, MONDAY, 200, 300)
    estimate(part(ana), 100 + 10 * standard_normals("run"))
    found = plan_of_week(ana, MONDAY, MONDAY)
    assert (found.to_low.median, found.to_high.median) == (pytest.approx(100), pytest.approx(200))
    assert found.to_low.high - found.to_low.low == pytest.approx(25.6, abs=0.3)


def test_before_the_first_workout_all_is_open(ana):
    set_range(ana, MONDAY, 200, None)
    found = plan_of_week(ana, MONDAY, MONDAY)
    assert (found.to_low.low, found.to_low.high, found.to_high, found.likely) == (200, 200, None, None)


def test_loads_in_another_measure_are_not_held_against_the_range(ana):
    ana.measure = "zones"
    set_range(ana, MONDAY, 100, 300)
    estimate(part(ana), 100.0)
    assert plan_of_week(ana, MONDAY, SUNDAY).load is None
    LoadEstimate.objects.update(measure="zones")
    assert plan_of_week(ana, MONDAY, SUNDAY).load.median == 100


def test_a_week_to_come_has_its_plan_and_nothing_open(ana):
    planned(ana, SUNDAY)
    set_range(ana, SUNDAY, 100, 200)
    found = plan_of_week(ana, MONDAY, MONDAY - WEEK)
    assert [len(day.lines) for day in found.days] == [0, 0, 0, 0, 0, 0, 1]
    assert (found.begun, found.to_low, found.days[6].lines[0].state) == (False, None, State.TO_COME)


def test_days_marked_unknown_are_counted(ana):
    UnknownDay.objects.create(owner=ana, day=SUNDAY)
    assert plan_of_week(ana, MONDAY, SUNDAY).unknown_days == 1


def test_a_week_is_planned_like_the_one_before(ana):
    planned(ana, MONDAY, minutes=60, hard=True, note="hills")
    planned(ana, SUNDAY, "lifting")
    set_range(ana, MONDAY, 100, 200)
    made = repeat_week(ana, SUNDAY, 2)
    assert (made.sessions, made.ranges, made.kept_ranges) == (4, 2, 0)
    assert days_of(ana) == [day + ahead * WEEK for ahead in range(3) for day in (MONDAY, SUNDAY)]
    copy = PlannedSession.objects.of(ana).get(day=MONDAY + WEEK)
    assert (copy.activity.slug, copy.minutes, copy.hard, copy.note) == ("run", 60, True, "hills")
    assert range_of(ana, MONDAY + 2 * WEEK).high == 200


def test_asking_for_the_same_again_twice_changes_nothing(ana):
    planned(ana)
    planned(ana)
    repeat_week(ana, MONDAY)
    assert repeat_week(ana, MONDAY).sessions == 0
    assert days_of(ana) == [MONDAY, MONDAY, MONDAY + WEEK, MONDAY + WEEK]


def test_a_range_that_stands_in_the_next_week_is_kept(ana):
    set_range(ana, MONDAY, 100, 200)
    set_range(ana, MONDAY + WEEK, 10, 20)
    assert repeat_week(ana, MONDAY).kept_ranges == 1
    assert range_of(ana, MONDAY + WEEK).low == 10


@pytest.mark.parametrize("weeks", [0, 13])
def test_a_number_of_weeks_that_makes_no_sense_is_refused(ana, weeks):
    planned(ana)
    with pytest.raises(ValidationError, match="between 1 and 12"):
        repeat_week(ana, MONDAY, weeks)


def test_an_empty_week_cannot_be_repeated(ana):
    with pytest.raises(ValidationError, match="Nothing is planned"):
        repeat_week(ana, date(2026, 3, 9))
