"""Rates held above the entered maximum: first a sensor to check, then something to raise with a clinician."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from trainlog import trace_blob
from trainlog.load.sustained import ODD_SECONDS, highest_sustained, is_odd
from trainlog.models import Athlete, Physiology, Recording, Sensor, Workout

LOOKED_BACK = timedelta(days=14)
"""An older reading can no longer be repeated."""


@dataclass(frozen=True)
class OddRate:
    """A rate of one recording that was held above the entered maximum.

    Attributes
    ----------
    recording : Recording
        With its sensor and workout.
    rate : float
        Highest rate held for 30 s, in bpm.
    maximum, error : float
        What was entered for that day, in bpm.
    predicted : bool
        Whether that maximum is only predicted from age.
    strap_rate : float or None
        The same of a reference of the same workout that did not go above; None without one.
    """

    recording: Recording
    rate: float
    maximum: float
    error: float
    predicted: bool
    strap_rate: float | None

    @property
    def from_wrist(self) -> bool:
        """Whether an optical sensor read it, which may lock on to the steps."""
        sensor = self.recording.sensor
        return sensor is not None and sensor.principle == Sensor.Principle.OPTICAL

    @property
    def seconds(self) -> int:
        """How long it was held at least."""
        return ODD_SECONDS


def odd_rates(athlete: Athlete, today: date, workout: Workout | None = None) -> list[OddRate]:
    """Odd readings of the last fourteen days, newest first.

    Parameters
    ----------
    athlete : Athlete
        Whose log it is.
    today : date
        Last of the days.
    workout : Workout, optional
        Only of this one.

    Returns
    -------
    list of OddRate
        Empty without physiology: nothing is entered then that a rate could lie above.
    """
    physiology = athlete.physiology()
    recordings = (
        Recording.objects.of(athlete)
        .filter(workout__day__gt=today - LOOKED_BACK, workout__day__lte=today, trace_blob__isnull=False)
        .select_related("sensor", "workout")
        .order_by("-start", "sha256")
    )
    if workout is not None:
        recordings = recordings.filter(workout=workout)
    held = [
        (recording, highest_sustained(trace_blob.unpack_heart_rate(bytes(recording.trace_blob)), ODD_SECONDS))
        for recording in recordings
        if recording.trace_blob is not None
    ]
    found = []
    for recording, rate in held:
        row = physiology.on(recording.workout.day) if recording.workout else None
        if row is not None and rate is not None and is_odd(rate, row.maximum_rate, row.maximum_error):
            strap = _strap_rate(recording, held, row.maximum_rate + row.maximum_error)
            predicted = row.maximum_source == Physiology.MaximumSource.AGE
            found.append(OddRate(recording, rate, row.maximum_rate, row.maximum_error, predicted, strap))
    return found


def _strap_rate(
    recording: Recording, held: Sequence[tuple[Recording, float | None]], limit: float
) -> float | None:
    """Rate of another sensor of the workout, a reference, where that stayed below the limit."""
    if recording.sensor is not None and recording.sensor.is_reference:
        return None
    rates = [
        rate
        for other, rate in held
        if other.workout_id == recording.workout_id
        and other.sensor is not None
        and other.sensor.is_reference
        and rate is not None
    ]
    return max(rates) if rates and max(rates) <= limit else None
