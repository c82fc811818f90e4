"""Parts of a log with what is estimated of them: what weeks, blocks and trends are summed from."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import Exists, Min, OuterRef, Prefetch, QuerySet

from trainlog.load.week import PartLoad, Total, total
from trainlog.models import Athlete, LoadEstimate, Part, Workout

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


def monday_of(day: date) -> date:
    """Monday of the week in which a day lies."""
    return day - timedelta(days=day.weekday())


def lines_between(
    athlete: Athlete, first: date, last: date, measure: str | None = None, source: str | None = None
) -> list[PartLine]:
    """Parts of workouts on local days from ``first`` to ``last``, oldest first, with their estimates.

    Parameters
    ----------
    athlete : Athlete
    first, last : date
        Both included.
    measure : str, optional
        Measure of load; the athlete's own choice if left out. Two are never mixed.
    source : str, optional
        Version of the estimates; the one on show if left out.
    """
    parts = Part.objects.of(athlete).filter(workout__owner=athlete, workout__day__range=(first, last))
    return lines_of(athlete, parts, measure, source)


def lines_of(
    athlete: Athlete, wanted: QuerySet[Part], measure: str | None = None, source: str | None = None
) -> list[PartLine]:
    """Some of an athlete's parts, oldest first, with their estimates; measure and source as above."""
    # By way of the parts, so that a database without statistics looks up these estimates alone.
    estimates = LoadEstimate.objects.filter(
        measure=measure or athlete.measure,
        source=athlete.current_source if source is None else source,
    )
    parts = (
        wanted.select_related("workout", "activity")
        .prefetch_related(Prefetch("estimates", estimates, to_attr="wanted_estimates"))
        .order_by("start")
    )
    return [PartLine(part, next(iter(part.wanted_estimates), None)) for part in parts]


def load_of(estimate: LoadEstimate) -> PartLoad:
    """Draws of an estimate, as sums take them."""
    return PartLoad(estimate.load, estimate.load_by_sensor_doubt, estimate.load_by_physiology_doubt)


def total_of(lines: Iterable[PartLine]) -> Total | None:
    """Sum of the lines that have an estimate."""
    return total([load_of(line.estimate) for line in lines if line.estimate])


def pending_between(athlete: Athlete, first: date, last: date, measure: str) -> int:
    """How many parts of a span of days have changed since they were estimated, or never were."""
    current = LoadEstimate.objects.filter(
        part=OuterRef("pk"),
        measure=measure,
        source=athlete.current_source,
        input_revision=OuterRef("input_revision"),
    )
    parts = Part.objects.of(athlete).filter(workout__owner=athlete, workout__day__range=(first, last))
    return parts.filter(~Exists(current)).count()


def first_day_of(athlete: Athlete) -> date | None:
    """Local day of the log's first workout."""
    first: date | None = Workout.objects.of(athlete).aggregate(first=Min("day"))["first"]
    return first
