"""Sessions of two tested sensors, paired: those that both recorded, or those that can be matched."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date

from django.db.models import QuerySet

from accuracy.core.agreement.sensor_comparison import SessionError, errors_on_common_seconds, together
from accuracy.core.agreement.session_matching import Candidate, match_sessions
from accuracy.models import Pair
from trainlog.load.trimp import RATES, histogram, histogram_load, load_per_minute
from trainlog.models import Activity, Athlete, Sensor, Workout
from trainlog.trace import FloatArray

PIECE = 200
"""Pairs whose traces are fetched at once."""


@dataclass(frozen=True, eq=False)
class Worn:
    """One sensor in one workout's parts of one activity; intensity in per cent of heart-rate reserve."""

    workout: Workout
    activity: Activity
    error: SessionError
    intensity: float


@dataclass(frozen=True, eq=False)
class Paired:
    """A session of a first sensor and one of a second; distance is None where they are one and the same."""

    first_workout: Workout
    second_workout: Workout
    activities: Sequence[Activity]
    first: SessionError
    second: SessionError
    distance: float | None = None

    @property
    def shared(self) -> bool:
        """Whether both were worn in one workout."""
        return self.first_workout.pk == self.second_workout.pk


@dataclass(frozen=True, eq=False)
class LeftOut:
    """A session that found no partner."""

    sensor: Sensor
    session: Worn


class Sessions:
    """Usable pairs by part and sensor, the longest of each; traces are read when they are asked for.

    Parameters
    ----------
    athlete : Athlete
    wanted : QuerySet of Pair
        With one reference, their parts, workouts and activities, and no trace.
    """

    def __init__(self, athlete: Athlete, wanted: QuerySet[Pair]) -> None:
        self._athlete, self._physiology = athlete, athlete.physiology()
        self._by_part: dict[int, dict[int, Pair]] = {}
        for pair in wanted.order_by("part__start", "-common_seconds", "pk"):
            if pair.tested.sensor_id is not None:
                self._by_part.setdefault(pair.part_id, {}).setdefault(pair.tested.sensor_id, pair)

    def shared(self, first: Sensor, second: Sensor) -> list[Paired]:
        """Parts that the reference recorded with both, over the seconds valid in all three."""
        both = [
            (own[first.pk], own[second.pk])
            for own in self._by_part.values()
            if first.pk in own and second.pk in own
        ]
        traces = self._traces(pair for two in both for pair in two)
        found = []
        for one, other in both:
            if one.pk not in traces or other.pk not in traces:
                continue
            (reference, a), (_, b) = traces[one.pk], traces[other.pk]
            length, workout = min(len(a), len(b)), one.part.workout
            errors = errors_on_common_seconds(
                reference[:length], [a[:length], b[:length]], self._load_of(workout.day)
            )
            if errors is not None:
                found.append(Paired(workout, workout, [one.part.activity], errors[0], errors[1]))
        return found

    def worn(self, sensor: Sensor) -> list[Worn]:
        """Sessions of one sensor, over the seconds valid in it and in the reference; no trace is read."""
        parts: dict[tuple[int, int], list[tuple[Pair, SessionError]]] = {}
        for own in self._by_part.values():
            pair = own.get(sensor.pk)
            error = self._kept_error(pair) if pair else None
            if pair and error:
                parts.setdefault((pair.part.workout_id, pair.part.activity_id), []).append((pair, error))
        return [
            Worn(pair.part.workout, pair.part.activity, error, self._intensity(error, pair.part.workout.day))
            for found in parts.values()
            for pair, error in [(found[0][0], together([one for _, one in found]))]
        ]

    def _traces(self, pairs: Iterable[Pair]) -> dict[int, tuple[FloatArray, FloatArray]]:
        keys = [pair.pk for pair in pairs]
        pieces = (keys[place : place + PIECE] for place in range(0, len(keys), PIECE))
        return dict(kept for piece in pieces for kept in self._read(piece))

    def _read(self, keys: Sequence[int]) -> Iterator[tuple[int, tuple[FloatArray, FloatArray]]]:
        kept = Pair.objects.of(self._athlete).filter(pk__in=keys).only("reference_trace", "tested_trace")
        return ((pair.pk, pair.traces) for pair in kept if pair.reference_trace and pair.tested_trace)

    def _per_minute(self, day: date) -> FloatArray | None:
        row = self._physiology.on(day)
        if row is None:
            return None
        return load_per_minute(RATES, row.resting_rate, row.maximum_rate, row.load_weighting)

    def _load_of(self, day: date) -> Callable[[FloatArray], float] | None:
        """Load of a trace on a day; None where no physiology is known."""
        per_minute = self._per_minute(day)
        if per_minute is None:
            return None
        return lambda rates: float(histogram_load(histogram(rates), per_minute))

    def _intensity(self, error: SessionError, day: date) -> float:
        row = self._physiology.on(day)
        if row is None:
            return math.nan
        return 100 * (error.reference_mean - row.resting_rate) / (row.maximum_rate - row.resting_rate)

    def _kept_error(self, pair: Pair) -> SessionError | None:
        """Error of a pair from what is kept beside its traces."""
        kept = pair.agreement
        names = ("bias", "mean_absolute_error", "root_mean_squared_error", "mean_absolute_percentage_error")
        if pair.common_seconds < 2 or any(kept.get(name) is None for name in names):
            return None
        seconds_at_rate = pair.histograms
        per_minute = self._per_minute(pair.part.workout.day)
        loads = [math.nan, math.nan]
        if per_minute is not None:
            loads = [float(histogram_load(seconds, per_minute)) for seconds in seconds_at_rate]
        of_reference = seconds_at_rate[0]
        return SessionError(
            seconds=pair.common_seconds,
            bias=kept["bias"],
            mean_absolute_error=kept["mean_absolute_error"],
            mean_square=kept["root_mean_squared_error"] ** 2,
            mean_absolute_percentage_error=kept["mean_absolute_percentage_error"],
            reference_mean=float(RATES @ of_reference / max(of_reference.sum(), 1.0)),
            reference_load=loads[0],
            tested_load=loads[1],
        )


def by_workout(found: Sequence[Paired]) -> list[Paired]:
    """Shared parts of one workout put together: its seconds are not two sessions."""
    groups: dict[int, list[Paired]] = {}
    for one in found:
        groups.setdefault(one.first_workout.pk, []).append(one)
    return [
        Paired(
            parts[0].first_workout,
            parts[0].second_workout,
            list({kind.pk: kind for part in parts for kind in part.activities}.values()),
            together([part.first for part in parts]),
            together([part.second for part in parts]),
        )
        for parts in groups.values()
    ]


def match(
    first: Sensor, second: Sensor, of_first: Sequence[Worn], of_second: Sequence[Worn]
) -> tuple[list[Paired], list[LeftOut]]:
    """Sessions of two sensors matched one to one on activity, intensity and length, and those left out."""
    found = match_sessions(*([_candidate(one) for one in worn] for worn in (of_first, of_second)))
    paired = [
        Paired(
            of_first[one.first].workout,
            of_second[one.second].workout,
            [of_first[one.first].activity],
            of_first[one.first].error,
            of_second[one.second].error,
            one.distance,
        )
        for one in found
    ]
    left = [
        LeftOut(sensor, worn)
        for sensor, sessions, used in (
            (first, of_first, {one.first for one in found}),
            (second, of_second, {one.second for one in found}),
        )
        for place, worn in enumerate(sessions)
        if place not in used
    ]
    return paired, left


def _candidate(worn: Worn) -> Candidate:
    return Candidate(worn.activity.slug, worn.intensity, worn.error.seconds / 60)
