"""Offer of a new maximum heart rate, from clean seconds of a reference alone."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
from scipy import ndimage

from accuracy.core.traces.artefacts import flag
from accuracy.models import Stretch
from trainlog.load.sustained import highest_sustained
from trainlog.models import Athlete, DeclinedOffer, Part, Physiology, Sensor
from trainlog.models.athlete import MEASURED_MAXIMUM_ERROR
from trainlog.services.offers import was_declined
from trainlog.trace import FloatArray, window

HELD_SECONDS = 5
"""Seconds for which a rate has to be held (our rule, no source)."""

CLEAN_AROUND = 60
"""Seconds before and after in which nothing may be flagged (our rule, no source)."""

LEAST_VALID = 0.90
"""Share of a part that its reference has to cover, as for a measured load."""

MOST_DECODED = 12
"""Traces looked at for one offer: those whose histograms reach highest come first."""


@dataclass(frozen=True)
class MaximumOffer:
    """A rate above the entered maximum that a reference held.

    Attributes
    ----------
    value : int
        bpm, rounded down.
    part : Part
        Where, with its workout and activity.
    sensor : Sensor
        The reference.
    from_day : date
        From when it would be in force: the day of the workout, or that of the entered row if later.
    entered : float
        Maximum that loads go by at present, in bpm.
    confirmed : bool
        Whether another workout's reference came within the repeatability of a maximum, 3 bpm.
    """

    value: int
    part: Part
    sensor: Sensor
    from_day: date
    entered: float
    confirmed: bool

    @property
    def day(self) -> date:
        """Local day of the workout."""
        return self.part.workout.day


def maximum_offer(athlete: Athlete) -> MaximumOffer | None:
    """New maximum worth offering, if a clean reference held a higher rate than the entered one.

    Workouts count for which the row that is in force today holds. A wrist never counts: it may have been
    following the steps.

    Parameters
    ----------
    athlete : Athlete
        Whose log it is.
    """
    physiology = athlete.physiology()
    row = physiology.on(athlete.today())
    if row is None:
        return None
    held: list[tuple[float, Stretch]] = []
    for stretch in _candidates(athlete, row):
        if physiology.on(stretch.part.workout.day) is not row:
            continue
        rate = _clean_rate(stretch)
        if rate is not None and math.floor(rate) > row.maximum_rate:
            held.append((rate, stretch))
    return _offer(athlete, row, held)


def _candidates(athlete: Athlete, row: Physiology) -> Iterator[Stretch]:
    """Stretches of references that spend long enough above the maximum, the highest first."""
    stretches = (
        Stretch.objects.of(athlete)
        .filter(recording__sensor__site=Sensor.Site.CHEST)
        .filter(recording__sensor__principle=Sensor.Principle.ELECTRICAL)
        .only("seconds", "valid_seconds", "histogram")
        .order_by("part__start", "pk")
    )
    reached = [
        (rate, stretch.pk)
        for stretch in stretches.iterator()
        if stretch.valid_seconds >= LEAST_VALID * stretch.seconds
        and (rate := _reached(stretch.seconds_at_rate)) > math.floor(row.maximum_rate)
    ]
    highest = sorted(reached, reverse=True)[:MOST_DECODED]
    found = Stretch.objects.of(athlete).select_related("part__workout", "part__activity", "recording__sensor")
    by_key = found.in_bulk([pk for _, pk in highest])
    return (by_key[pk] for _, pk in highest)


def _reached(seconds_at_rate: FloatArray) -> int:
    """Highest whole rate at or above which the part spent ``HELD_SECONDS``, together or apart."""
    above = np.cumsum(seconds_at_rate[::-1])[::-1]
    return int(np.flatnonzero(above >= HELD_SECONDS)[-1]) if above[0] >= HELD_SECONDS else 0


def _clean_rate(stretch: Stretch) -> float | None:
    """Highest rate held, with nothing flagged within a minute of it."""
    part, trace = stretch.part, stretch.recording.trace()
    begins = round((part.start - trace.start).total_seconds())
    heart_rate = window(trace.heart_rate, begins, part.seconds)
    flagged = flag(heart_rate, principle="electrical").codes != 0
    near = ndimage.maximum_filter1d(flagged.astype(np.uint8), 2 * CLEAN_AROUND + 1, mode="constant") > 0
    return highest_sustained(np.where(near, np.nan, heart_rate), HELD_SECONDS)


def _offer(athlete: Athlete, row: Physiology, held: Sequence[tuple[float, Stretch]]) -> MaximumOffer | None:
    if not held:
        return None
    rate, best = max(held, key=lambda one: one[0])
    value, sensor = math.floor(rate), best.recording.sensor
    if sensor is None or was_declined(athlete, DeclinedOffer.Kind.MAXIMUM, value, row):
        return None
    confirmed = any(
        stretch.part.workout_id != best.part.workout_id and other >= value - MEASURED_MAXIMUM_ERROR
        for other, stretch in held
    )
    from_day = max(best.part.workout.day, row.from_day)
    return MaximumOffer(value, best.part, sensor, from_day, row.maximum_rate, confirmed)
