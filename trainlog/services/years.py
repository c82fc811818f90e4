"""Totals of years and months, over as many years as the log has."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
from django.db.models import F

from trainlog.load.draws import DRAWS
from trainlog.load.week import Comparison, compare_draws
from trainlog.models import Athlete, Basis, Family, Part
from trainlog.services.summed_loads import DatedLoads, SummedLoad, dated_loads

ONE_DAY = timedelta(days=1)

Row = tuple[date, int, timedelta, str]
"""Of a part: local day, workout, length, family."""


@dataclass(frozen=True)
class FamilyTime:
    """Time spent on one family of activities, in seconds."""

    family: str
    label: str
    seconds: float

    @property
    def hours(self) -> float:
        """The same in hours."""
        return self.seconds / 3600


@dataclass(frozen=True)
class BasisCount:
    """Parts whose load has one basis, and their share of all that have a load, in per cent."""

    basis: str
    label: str
    parts: int
    per_cent: float


@dataclass(frozen=True)
class Span:
    """Totals from one local day to another.

    Attributes
    ----------
    first, last : date
        Both included.
    workouts, parts : int
        How many began on those days.
    seconds : float
        Length of the parts.
    families : sequence of FamilyTime
        In the order of the families; those without a part are left out.
    load : SummedLoad or None
        Sum over the parts that have a load; None where none has.
    bases : sequence of BasisCount
        What those loads rest on.
    """

    first: date
    last: date
    workouts: int
    parts: int
    seconds: float
    families: Sequence[FamilyTime]
    load: SummedLoad | None
    bases: Sequence[BasisCount]

    @property
    def hours(self) -> float:
        """Length of the parts in hours."""
        return self.seconds / 3600

    @property
    def without_load(self) -> int:
        """Parts that have no load yet, and so are missing from the sum."""
        return self.parts - sum(count.parts for count in self.bases)


@dataclass(frozen=True)
class Years:
    """Every year of a log, the newest first, and the months of one of them.

    Attributes
    ----------
    measure : str
        Measure of load that the athlete goes by.
    years : sequence of Span
        From the first year with a workout to the last; the running one ends today.
    months : sequence of Span
        Months of the chosen year from the log's first on, in their order, as far as they have begun.
    until : date or None
        Day of last year up to which it is compared with the running year, if the log reaches back so far.
    against_last : Comparison or None
        The running year until today against last year until that day; None where last year has no load.
    """

    measure: str
    years: Sequence[Span]
    months: Sequence[Span]
    until: date | None
    against_last: Comparison | None


def years_of(athlete: Athlete, today: date, chosen: int | None = None) -> Years:
    """Totals of every year of a log, with the months of one of them.

    Parameters
    ----------
    athlete : Athlete
        Whose log it is.
    today : date
        The athlete's local day, at which the running year ends for now.
    chosen : int, optional
        Year whose months are wanted; by default the newest.
    """
    rows: list[Row] = list(
        Part.objects.of(athlete)
        .order_by("workout__day")
        .values_list("workout__day", "workout_id", F("end") - F("start"), "activity__family")
    )
    if not rows:
        return Years(athlete.measure, [], [], None, None)
    loads = dated_loads(athlete)
    by_year: dict[int, list[Row]] = {}
    for row in rows:
        by_year.setdefault(row[0].year, []).append(row)
    newest = max(by_year)
    years = [
        _span(
            date(year, 1, 1), _end(date(year, 1, 1), date(year, 12, 31), today), by_year.get(year, []), loads
        )
        for year in range(newest, min(by_year) - 1, -1)
    ]
    wanted = newest if chosen is None else chosen
    months = [
        _span(first, _end(first, _last_of_month(first), today), by_year.get(wanted, []), loads)
        for first in (date(wanted, month, 1) for month in range(1, 13))
        if wanted in by_year
        and (rows[0][0] <= _last_of_month(first))
        and not (wanted == today.year and first > today)
    ]
    until = a_year_before(today)
    this = loads.between(date(today.year, 1, 1), today)
    other = loads.between(date(until.year, 1, 1), until)
    return Years(
        athlete.measure,
        years,
        months,
        until if other else None,
        compare_draws(this.draws if this else np.zeros(DRAWS), other.draws) if other else None,
    )


def a_year_before(day: date) -> date:
    """Same date of the year before; 28 February for a leap day."""
    leap_day = (day.month, day.day) == (2, 29)
    return day.replace(year=day.year - 1, day=28 if leap_day else day.day)


def _end(first: date, last: date, today: date) -> date:
    return today if first <= today < last else last


def _last_of_month(first: date) -> date:
    return (first + timedelta(days=31)).replace(day=1) - ONE_DAY


def _span(first: date, last: date, rows: Iterable[Row], loads: DatedLoads) -> Span:
    inside = [row for row in rows if first <= row[0] <= last]
    seconds: dict[str, float] = defaultdict(float)
    for _, _, length, family in inside:
        seconds[family] += length.total_seconds()
    bases = Counter(loads.bases[loads.places(first, last)])
    return Span(
        first=first,
        last=last,
        workouts=len({row[1] for row in inside}),
        parts=len(inside),
        seconds=sum(seconds.values()),
        families=[FamilyTime(one.value, one.label, seconds[one.value]) for one in Family if one in seconds],
        load=loads.between(first, last),
        bases=[
            BasisCount(one.value, one.label, bases[one.value], 100 * bases[one.value] / bases.total())
            for one in Basis
            if bases[one.value]
        ],
    )
