"""One week of a log, with what each load rests on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from trainlog.load.week import USUAL_WEEKS, Comparison, Total, compare, compare_with_usual
from trainlog.models import Athlete, Measure, UnknownDay
from trainlog.services.bands import MinutesInBands, minutes_in_bands
from trainlog.services.doubt import WeekDoubt, main_doubt_of
from trainlog.services.held import BasisShare, ConfidenceShare, FamilyCount, held_in
from trainlog.services.lines import (
    WEEK,
    PartLine,
    first_day_of,
    lines_between,
    monday_of,
    total_of,
)
from trainlog.services.unknown_days import unknown_days_between

EARLIER = range(1, USUAL_WEEKS + 1)
"""The weeks of which the usual one is made, counted back from the one shown."""


@dataclass(frozen=True)
class Day:
    """One local day."""

    date: date
    lines: Sequence[PartLine]
    total: Total | None
    unknown: UnknownDay | None = None


@dataclass(frozen=True)
class AgainstUsual:
    """This week against the mean of so many weeks before it."""

    comparison: Comparison
    weeks: int


@dataclass(frozen=True)
class Week:
    """Monday to Sunday."""

    monday: date
    measure: Measure
    days: Sequence[Day]
    total: Total | None
    confidence: str
    against_last: Comparison | None
    against_usual: AgainstUsual | None
    main_doubt: WeekDoubt | None
    shares: Sequence[BasisShare]
    shares_by_confidence: Sequence[ConfidenceShare]
    bands: MinutesInBands | None
    families: Sequence[FamilyCount]
    hours: float
    session_rpe_load: float | None
    rated_parts: int
    parts: int
    pending: int
    unknown_before: bool
    """Whether days of the week before that it would be compared with are not known."""

    @property
    def unknown_days(self) -> int:
        """Days that are not known: the week's load is at least what it shows."""
        return sum(day.unknown is not None for day in self.days)

    @property
    def sunday(self) -> date:
        """Last day."""
        return self.monday + timedelta(days=6)

    @property
    def before(self) -> date:
        """Monday of the week before."""
        return self.monday - WEEK

    @property
    def after(self) -> date:
        """Monday of the week after."""
        return self.monday + WEEK


def week_of(athlete: Athlete, day: date, today: date | None = None) -> Week:
    """The week in which a day lies.

    Parameters
    ----------
    athlete : Athlete
        Whose log it is.
    day : date
        Any day of the week wanted.
    today : date, optional
        The athlete's local day. A week that is not over is compared with as many days of those before.

    Returns
    -------
    Week
        With each day's and the whole week's load, and the probability that it exceeds the week before
        and the usual week. A week with a day that is not known is compared with none.
    """
    monday = monday_of(day)
    running = today is not None and monday <= today < monday + WEEK
    compared_until = today - WEEK if running and today else monday - timedelta(days=1)
    sunday = monday + timedelta(days=6)
    measure = Measure(athlete.measure)
    earliest = monday - USUAL_WEEKS * WEEK
    every = lines_between(athlete, earliest, sunday, measure)
    unknown = {mark.day: mark for mark in unknown_days_between(athlete, earliest, sunday)}
    before = [
        None
        if any(first <= day <= last for day in unknown)
        else [line for line in every if first <= line.part.workout.day <= last]
        for first, last in ((monday - i * WEEK, compared_until - (i - 1) * WEEK) for i in EARLIER)
    ]
    lines = [line for line in every if line.part.workout.day >= monday]
    held = held_in(lines)
    whole = held.total
    days = [
        Day(date, today, total_of(today), unknown.get(date))
        for date in (monday + timedelta(days=offset) for offset in range(7))
        for today in [[line for line in lines if line.part.workout.day == date]]
    ]
    partly_known = any(day.unknown for day in days)
    return Week(
        monday=monday,
        measure=measure,
        days=days,
        total=whole,
        confidence=held.confidence,
        against_last=None if partly_known or before[0] is None else compare(whole, total_of(before[0])),
        against_usual=None
        if partly_known or (today is not None and today < monday)
        else _against_usual(whole, before, _weeks_since_the_log_began(athlete, compared_until)),
        main_doubt=main_doubt_of(lines, whole),
        shares=held.shares,
        shares_by_confidence=held.shares_by_confidence,
        bands=minutes_in_bands(athlete, monday, sunday, len(lines)),
        families=held.families,
        hours=held.hours,
        session_rpe_load=held.session_rpe_load,
        rated_parts=held.rated_parts,
        parts=len(lines),
        pending=sum(line.outdated for line in lines),
        unknown_before=before[0] is None,
    )


def _weeks_since_the_log_began(athlete: Athlete, last_day: date) -> int:
    first_day = first_day_of(athlete)
    return 0 if first_day is None else sum(last_day - (i - 1) * WEEK >= first_day for i in EARLIER)


def _against_usual(
    whole: Total | None, before: Sequence[Sequence[PartLine] | None], weeks: int
) -> AgainstUsual | None:
    # A week whose workouts have no load yet is not known, and is left out, as is one with a day marked as
    # not known; one of rest counts as nothing.
    known = [
        total_of(lines)
        for lines in before[:weeks]
        if lines is not None and (not lines or any(line.estimate is not None for line in lines))
    ]
    change = compare_with_usual(whole, known)
    return AgainstUsual(change, len(known)) if change else None
