# mypy: disable-error-code="union-attr"

from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest

from tests.builders import MORNING, activity_of, athlete, estimate, part
from trainlog.load.draws import standard_normals
from trainlog.models import CheckIn, Part, PlannedSession, UnknownDay
from trainlog.services.calendar import month_of
from trainlog.services.plan import set_range
from trainlog.services.plan_matching import State

pytestmark = pytest.mark.django_db

MONDAY = MORNING.date()
QUERIES = 6


def day_of(month, wanted):
    return next(day for week in month.weeks for day in week.days if day.date == wanted)


@pytest.mark.parametrize(
    ("day", "first", "last"),
    [
        (date(2026, 3, 15), date(2026, 2, 23), date(2026, 4, 5)),
        (date(2027, 2, 1), date(2027, 2, 1), date(2027, 2, 28)),
        (date(2026, 12, 31), date(2026, 11, 30), date(2027, 1, 3)),
    ],
)
def test_a_month_is_shown_in_whole_weeks_from_monday(ana, day, first, last):
    month = month_of(ana, day, MONDAY)
    assert (month.weeks[0].days[0].date, month.weeks[-1].days[-1].date) == (first, last)
    assert all(len(week.days) == 7 for week in month.weeks)
    assert {one.date.month for week in month.weeks for one in week.days if one.in_month} == {day.month}


def test_the_months_beside_are_known(ana):
    month = month_of(ana, date(2026, 1, 31), MONDAY)
    assert (month.before, month.after) == (date(2025, 12, 1), date(2026, 2, 1))


def test_a_workout_has_its_activities_and_the_sum_of_its_parts(ana):
    first = part(ana, activity="lifting")
    second = Part.objects.create(
        owner=ana,
        workout=first.workout,
        start=first.end - timedelta(minutes=20),
        end=first.end,
        activity=activity_of(ana, "run"),
    )
    estimate(first, 40)
    estimate(second, 20)
    (mark,) = day_of(month_of(ana, MONDAY, MONDAY), MONDAY).workouts
    assert (mark.what, mark.workout, mark.load.median) == ("lifting + run", first.workout, 60)
    assert not mark.unknown


def test_a_load_too_wide_to_train_by_is_told_apart(ana):
    estimate(part(ana), 100 * np.exp(0.6 * standard_normals("wide")))
    (mark,) = day_of(month_of(ana, MONDAY, MONDAY), MONDAY).workouts
    assert mark.unknown


def test_a_workout_without_a_load_is_still_there(ana):
    part(ana)
    (mark,) = day_of(month_of(ana, MONDAY, MONDAY), MONDAY).workouts
    assert (mark.what, mark.load, mark.unknown) == ("run", None, False)


def test_a_workout_stands_on_the_athletes_own_day():
    owner = athlete("far", time_zone="Pacific/Auckland")
    part(owner, datetime(2026, 3, 2, 20, 0, tzinfo=UTC))
    month = month_of(owner, MONDAY, MONDAY)
    assert day_of(month, MONDAY).workouts == []
    assert len(day_of(month, MONDAY + timedelta(days=1)).workouts) == 1


def test_planned_sessions_unknown_days_and_mornings_stand_on_their_days(ana):
    for offset in (0, 1):
        day = MONDAY + timedelta(days=offset)
        PlannedSession.objects.create(owner=ana, day=day, activity=activity_of(ana, "run"))
    part(ana)
    UnknownDay.objects.create(owner=ana, day=MONDAY + timedelta(days=2))
    CheckIn.objects.create(owner=ana, day=MONDAY + timedelta(days=3), resting_rate=50)
    month = month_of(ana, MONDAY, MONDAY + timedelta(days=5))
    week = [day_of(month, MONDAY + timedelta(days=offset)) for offset in range(7)]
    assert [[line.state for line in day.planned] for day in week[:2]] == [[State.DONE], [State.MISSED]]
    assert [day.unknown for day in week] == [False, False, True, False, False, False, False]
    assert [day.checked_in for day in week] == [False, False, False, True, False, False, False]
    assert [day.is_empty for day in week] == [False] * 4 + [True] * 3


def test_a_weeks_sum_counts_the_days_that_lie_outside_the_month(ana):
    estimate(part(ana, datetime(2026, 2, 28, 8, tzinfo=UTC)), 40)
    estimate(part(ana, datetime(2026, 3, 1, 8, tzinfo=UTC)), 60)
    set_range(ana, date(2026, 3, 1), 90, 120)
    week = month_of(ana, MONDAY, MONDAY).weeks[0]
    assert (week.monday, week.load.median, week.seconds) == (date(2026, 2, 23), 100, 7200)
    assert (week.range.low, week.likely.within) == (90, 95)


def test_what_another_athlete_did_or_means_is_not_shown(ana):
    ben = athlete("ben")
    estimate(part(ben), 40)
    PlannedSession.objects.create(owner=ben, day=MONDAY, activity=activity_of(ben, "run"))
    UnknownDay.objects.create(owner=ben, day=MONDAY)
    assert all(day.is_empty for week in month_of(ana, MONDAY, MONDAY).weeks for day in week.days)


def test_a_full_month_takes_as_many_queries_as_one_with_a_workout(ana, django_assert_num_queries):
    estimate(part(ana, MORNING - timedelta(hours=2)), 40)
    with django_assert_num_queries(QUERIES):
        month_of(ana, MONDAY, MONDAY)
    for offset in range(28):
        estimate(part(ana, MORNING + timedelta(days=offset)), 40)
        day = MONDAY + timedelta(days=offset)
        PlannedSession.objects.create(owner=ana, day=day, activity=activity_of(ana, "run"))
        set_range(ana, day, 100, 200)
    with django_assert_num_queries(QUERIES):
        month_of(ana, MONDAY, MONDAY)
