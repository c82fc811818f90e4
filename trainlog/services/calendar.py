"""A month of the log and of the plan, in whole weeks."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import groupby

import numpy as np

from trainlog.load.plan import AgainstRange, against_range
from trainlog.models import Athlete, CheckIn, Confidence, Part, UnknownDay, WeekPlan, Workout
from trainlog.services.lines import WEEK, monday_of
from trainlog.services.plan import PlannedLine, parts_between, plan_between
from trainlog.services.summed_loads import DatedLoads, SummedLoad, dated_loads


@dataclass(frozen=True)
class WorkoutMark:
    """One workout of a day.

    Attributes
    ----------
    workout : Workout
        With its start and end.
    what : str
        Activities of its parts in order, a repeated one once.
    load : SummedLoad or None
        Of the parts that have one.
    unknown : bool
        Whether a part's load is too wide to train by.
    """

    workout: Workout
    what: str
    load: SummedLoad | None
    unknown: bool


@dataclass(frozen=True)
class CalendarDay:
    """One local day.

    Attributes
    ----------
    date : date
        The day.
    in_month : bool
        Whether it lies in the month shown, and not in a week that the month shares.
    workouts : sequence of WorkoutMark
        In their order.
    planned : sequence of PlannedLine
        Sessions meant for the day.
    unknown, checked_in : bool
        Whether the day is marked unknown, and whether its morning is noted.
    """

    date: date
    in_month: bool
    workouts: Sequence[WorkoutMark]
    planned: Sequence[PlannedLine]
    unknown: bool
    checked_in: bool

    @property
    def is_empty(self) -> bool:
        """Whether there is nothing to tell of the day."""
        return not (self.workouts or self.planned or self.unknown or self.checked_in)


@dataclass(frozen=True)
class CalendarWeek:
    """Monday to Sunday, with the sum of its loads and the range that was planned."""

    monday: date
    days: Sequence[CalendarDay]
    load: SummedLoad | None
    seconds: int
    range: WeekPlan | None
    likely: AgainstRange | None

    @property
    def ends_before(self) -> date:
        """Monday after it."""
        return self.monday + WEEK


@dataclass(frozen=True)
class Month:
    """A month of a calendar: the weeks that have a day in it."""

    first: date
    measure: str
    weeks: Sequence[CalendarWeek]

    @property
    def before(self) -> date:
        """First day of the month before."""
        return (self.first - timedelta(days=1)).replace(day=1)

    @property
    def after(self) -> date:
        """First day of the month after."""
        return (self.first + timedelta(days=31)).replace(day=1)

    @property
    def highest(self) -> float:
        """Highest upper bound of a workout's load."""
        loads = [mark.load for week in self.weeks for day in week.days for mark in day.workouts]
        return max((load.high for load in loads if load), default=1.0)

    @property
    def highest_week(self) -> float:
        """Highest upper bound of a week's load."""
        return max((week.load.high for week in self.weeks if week.load), default=1.0)


def month_of(athlete: Athlete, day: date, today: date) -> Month:
    """The month in which a day lies, in whole weeks.

    Parameters
    ----------
    athlete : Athlete
        Whose log it is.
    day : date
        Any day of the month wanted.
    today : date
        The athlete's local day.

    Returns
    -------
    Month
        Asked for in the same number of queries whatever it holds.
    """
    first = day.replace(day=1)
    begin = monday_of(first)
    end = monday_of((first + timedelta(days=31)).replace(day=1) - timedelta(days=1)) + timedelta(days=6)
    parts = parts_between(athlete, begin, end)
    loads = dated_loads(athlete, parts)
    marks = _workouts(parts, loads)
    planned: dict[date, list[PlannedLine]] = defaultdict(list)
    for line in plan_between(athlete, begin, end, today, parts):
        planned[line.session.day].append(line)
    unknown = set(
        UnknownDay.objects.of(athlete).filter(day__range=(begin, end)).values_list("day", flat=True)
    )
    mornings = set(CheckIn.objects.of(athlete).filter(day__range=(begin, end)).values_list("day", flat=True))
    ranges = {
        meant.monday: meant
        for meant in WeekPlan.objects.of(athlete).filter(monday__range=(begin, end), measure=athlete.measure)
    }
    weeks = []
    for monday in (begin + number * WEEK for number in range(((end - begin).days + 1) // 7)):
        dates = [monday + timedelta(days=offset) for offset in range(7)]
        load, meant = loads.between(dates[0], dates[-1]), ranges.get(monday)
        weeks.append(
            CalendarWeek(
                monday=monday,
                days=[
                    CalendarDay(
                        date,
                        date.month == first.month,
                        marks.get(date, []),
                        planned.get(date, []),
                        date in unknown,
                        date in mornings,
                    )
                    for date in dates
                ],
                load=load,
                seconds=sum(part.seconds for part in parts if monday_of(part.workout.day) == monday),
                range=meant,
                likely=against_range(load.draws, meant.low, meant.high) if load and meant else None,
            )
        )
    return Month(first, athlete.measure, weeks)


def _workouts(parts: Sequence[Part], loads: DatedLoads) -> dict[date, list[WorkoutMark]]:
    by_workout: dict[int, list[Part]] = defaultdict(list)
    for part in parts:
        by_workout[part.workout_id].append(part)
    marks: dict[date, list[WorkoutMark]] = defaultdict(list)
    for key, of_one in by_workout.items():
        places = np.flatnonzero(loads.workouts == key)
        what = " + ".join(name for name, _ in groupby(part.activity.name for part in of_one))
        unknown = any(loads.confidences[int(place)] == Confidence.UNKNOWN for place in places)
        marks[of_one[0].workout.day].append(WorkoutMark(of_one[0].workout, what, loads.sum(places), unknown))
    return marks
