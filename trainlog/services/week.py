"""One week of a log, with what each load rests on."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from trainlog.load.session_rpe import session_rpe_load
from trainlog.load.week import Comparison, PartLoad, Total, compare, total
from trainlog.models import Athlete, Basis, Confidence, LoadEstimate, Part

WEEK = timedelta(days=7)


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
class Week:
    """Monday to Sunday."""

    monday: date
    days: Sequence[Day]
    total: Total | None
    confidence: str
    against_last: Comparison | None
    shares: Sequence[BasisShare]
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
    return total(
        [
            PartLoad(
                line.estimate.load, line.estimate.load_by_sensor_doubt, line.estimate.load_by_physiology_doubt
            )
            for line in lines
            if line.estimate
        ]
    )


def week_of(athlete: Athlete, day: date, today: date | None = None) -> Week:
    """The week in which a day lies.

    Parameters
    ----------
    athlete : Athlete
        Whose log it is.
    day : date
        Any day of the week wanted.
    today : date, optional
        The athlete's local day. A week that is not over is compared with as many days of the one before.

    Returns
    -------
    Week
        With each day's and the whole week's load, and the probability that it exceeds the week before.
    """
    monday = monday_of(day)
    running = today is not None and monday <= today < monday + WEEK
    compared_until = today - WEEK if running and today else monday - timedelta(days=1)
    both = lines_between(athlete, monday - WEEK, monday + timedelta(days=6))
    lines = [line for line in both if line.part.workout.day >= monday]
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
        against_last=compare(
            whole, total_of(line for line in both if line.part.workout.day <= compared_until)
        ),
        shares=_shares(lines),
        hours=sum(line.part.seconds for line in lines) / 3600,
        session_rpe_load=sum(session_rpe_load(part.session_rpe or 0, part.seconds / 60) for part in rated)
        if rated
        else None,
        rated_parts=len(rated),
        parts=len(lines),
        pending=sum(line.outdated for line in lines),
    )


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
