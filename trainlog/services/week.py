"""One week of a log, with what each load rests on."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import Min

from trainlog.load.session_rpe import session_rpe_load
from trainlog.load.week import (
    USUAL_WEEKS,
    Comparison,
    PartLoad,
    Total,
    compare,
    compare_with_usual,
    main_doubt,
    total,
)
from trainlog.models import Athlete, Basis, Confidence, Family, LoadEstimate, Part, Workout

WEEK = timedelta(days=7)

EARLIER = range(1, USUAL_WEEKS + 1)
"""The weeks of which the usual one is made, counted back from the one shown."""

KNOWN_ENOUGH = 0.03
"""Sensor doubt of a week below which it is not asked where the doubt comes from."""


@dataclass(frozen=True)
class PartLine:
    """A part with its current estimate, if there is one."""

    part: Part
    estimate: LoadEstimate | None

    @property
    def outdated(self) -> bool:
        """Whether the part has changed since it was estimated, or never was."""
        return self.estimate is None or self.estimate.input_revision != self.part.input_revision


@dataclass(frozen=True)
class Day:
    """One local day."""

    date: date
    lines: Sequence[PartLine]
    total: Total | None


@dataclass(frozen=True)
class BasisShare:
    """Share of the week's load that has one basis, in per cent of the sum of medians."""

    basis: str
    label: str
    per_cent: float


@dataclass(frozen=True)
class AgainstUsual:
    """This week against the mean of so many weeks before it."""

    comparison: Comparison
    weeks: int


@dataclass(frozen=True)
class DoubtfulPart:
    """A part that makes much of the week's sensor doubt, and how much, in per cent."""

    part: Part
    per_cent: float


@dataclass(frozen=True)
class WeekDoubt:
    """What makes most of the week's sensor doubt, and what a strap there would have left of it."""

    parts: Sequence[DoubtfulPart]
    half_width: float
    half_width_if_measured: float

    @property
    def per_cent(self) -> float:
        """Share of all of them together."""
        return sum(one.per_cent for one in self.parts)


@dataclass(frozen=True)
class FamilyCount:
    """Parts of one family in the week, and their length."""

    family: str
    label: str
    parts: int
    seconds: int


@dataclass(frozen=True)
class Week:
    """Monday to Sunday."""

    monday: date
    days: Sequence[Day]
    total: Total | None
    confidence: str
    against_last: Comparison | None
    against_usual: AgainstUsual | None
    main_doubt: WeekDoubt | None
    shares: Sequence[BasisShare]
    families: Sequence[FamilyCount]
    hours: float
    session_rpe_load: float | None
    rated_parts: int
    parts: int
    pending: int

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


def monday_of(day: date) -> date:
    """Monday of the week in which a day lies."""
    return day - timedelta(days=day.weekday())


def lines_between(athlete: Athlete, first: date, last: date) -> list[PartLine]:
    """Parts of workouts on local days from ``first`` to ``last``, oldest first, with current estimates."""
    parts = list(
        Part.objects.of(athlete)
        .filter(workout__day__range=(first, last))
        .select_related("workout", "activity")
        .order_by("start")
    )
    estimates = {
        estimate.part_id: estimate
        for estimate in LoadEstimate.objects.of(athlete).filter(
            part__in=parts, measure="trimp", source=athlete.current_source
        )
    }
    return [PartLine(part, estimates.get(part.pk)) for part in parts]


def total_of(lines: Iterable[PartLine]) -> Total | None:
    """Sum of the lines that have an estimate."""
    return total([_load(line.estimate) for line in lines if line.estimate])


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
        and the usual week.
    """
    monday = monday_of(day)
    running = today is not None and monday <= today < monday + WEEK
    compared_until = today - WEEK if running and today else monday - timedelta(days=1)
    every = lines_between(athlete, monday - USUAL_WEEKS * WEEK, monday + timedelta(days=6))
    before = [
        [line for line in every if first <= line.part.workout.day <= last]
        for first, last in ((monday - i * WEEK, compared_until - (i - 1) * WEEK) for i in EARLIER)
    ]
    lines = [line for line in every if line.part.workout.day >= monday]
    whole = total_of(lines)
    days = [
        Day(date, today, total_of(today))
        for date in (monday + timedelta(days=offset) for offset in range(7))
        for today in [[line for line in lines if line.part.workout.day == date]]
    ]
    rated = [line.part for line in lines if line.part.session_rpe is not None]
    return Week(
        monday=monday,
        days=days,
        total=whole,
        confidence=Confidence.of(whole.sensor_half_width).label if whole else "",
        against_last=compare(whole, total_of(before[0])),
        against_usual=None
        if today is not None and today < monday
        else _against_usual(whole, before, _weeks_since_the_log_began(athlete, compared_until)),
        main_doubt=_main_doubt(lines, whole),
        shares=_shares(lines),
        families=_families(lines),
        hours=sum(line.part.seconds for line in lines) / 3600,
        session_rpe_load=sum(session_rpe_load(part.session_rpe or 0, part.seconds / 60) for part in rated)
        if rated
        else None,
        rated_parts=len(rated),
        parts=len(lines),
        pending=sum(line.outdated for line in lines),
    )


def _load(estimate: LoadEstimate) -> PartLoad:
    return PartLoad(estimate.load, estimate.load_by_sensor_doubt, estimate.load_by_physiology_doubt)


def _weeks_since_the_log_began(athlete: Athlete, last_day: date) -> int:
    first_day = Workout.objects.of(athlete).aggregate(first=Min("day"))["first"]
    return 0 if first_day is None else sum(last_day - (i - 1) * WEEK >= first_day for i in EARLIER)


def _against_usual(
    whole: Total | None, before: Sequence[Sequence[PartLine]], weeks: int
) -> AgainstUsual | None:
    # A week whose workouts have no load yet is not known, and is left out; one of rest counts as nothing.
    known = [
        total_of(lines)
        for lines in before[:weeks]
        if not lines or any(line.estimate is not None for line in lines)
    ]
    change = compare_with_usual(whole, known)
    return AgainstUsual(change, len(known)) if change else None


def _main_doubt(lines: Iterable[PartLine], whole: Total | None) -> WeekDoubt | None:
    if whole is None or whole.sensor_half_width < KNOWN_ENOUGH:
        return None
    known = [(line.part, line.estimate) for line in lines if line.estimate]
    found = main_doubt(
        [_load(estimate) for _, estimate in known],
        [estimate.basis == Basis.MEASURED for _, estimate in known],
    )
    if found is None or round(100 * found.half_width_if_measured) >= round(100 * whole.sensor_half_width):
        return None
    return WeekDoubt(
        [
            DoubtfulPart(known[place][0], 100 * share)
            for place, share in zip(found.parts, found.shares, strict=True)
        ],
        whole.sensor_half_width,
        found.half_width_if_measured,
    )


def _families(lines: Iterable[PartLine]) -> list[FamilyCount]:
    parts: Counter[str] = Counter()
    seconds: Counter[str] = Counter()
    for line in lines:
        parts[line.part.activity.family] += 1
        seconds[line.part.activity.family] += line.part.seconds
    return [
        FamilyCount(family.value, family.label, parts[family.value], seconds[family.value])
        for family in Family
        if family.value in parts
    ]


def _shares(lines: Iterable[PartLine]) -> list[BasisShare]:
    medians: dict[str, float] = {}
    for line in lines:
        if line.estimate:
            medians[line.estimate.basis] = medians.get(line.estimate.basis, 0) + line.estimate.median
    whole = sum(medians.values())
    if not whole:
        return []
    return [
        BasisShare(basis.value, basis.label, 100 * medians[basis.value] / whole)
        for basis in Basis
        if basis.value in medians
    ]
