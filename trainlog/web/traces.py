"""The traces of a workout, for the chart and in words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from trainlog.charts import traces as charts
from trainlog.models import Part, Recording, Workout
from trainlog.trace import window


@dataclass(frozen=True)
class TraceInWords:
    """What the chart shows of one recording."""

    name: str
    role: str
    mean: float
    peak: float
    seconds: int
    missing: int
    dash: str


def lines_of(workout: Workout) -> list[charts.TraceLine]:
    """Traces of a workout's recordings on its own seconds, in the order in which they are shown."""
    seconds = round((workout.end - workout.start).total_seconds())
    found = []
    for recording in recordings_of(workout):
        if recording.trace_blob is not None:
            trace = recording.trace()
            begins = round((workout.start - trace.start).total_seconds())
            rates = window(trace.heart_rate, begins, seconds)
            found.append(charts.TraceLine(_name(recording), _role(recording), rates))
    return found


def recordings_of(workout: Workout) -> list[Recording]:
    """Recordings of a workout with their sensors, in the order in which they are shown."""
    return list(workout.recordings.select_related("sensor").order_by("start", "sha256"))


def stretches_of(workout: Workout, parts: Sequence[Part]) -> list[charts.PartStretch]:
    """Parts of a workout, each with its activity, in its own seconds."""
    return [
        charts.PartStretch(
            part.activity.name.capitalize(),
            (part.start - workout.start).total_seconds(),
            (part.end - workout.start).total_seconds(),
        )
        for part in parts
    ]


def in_words(recordings: Sequence[Recording]) -> list[TraceInWords]:
    """Give the same traces as figures."""
    found = []
    read = [recording for recording in recordings if recording.trace_blob is not None]
    for recording, dash in zip(read, charts.dashes([_role(recording) for recording in read]), strict=True):
        rates = recording.trace().heart_rate
        known = rates[np.isfinite(rates)]
        if len(known):
            found.append(
                TraceInWords(
                    _name(recording),
                    _role(recording),
                    float(known.mean()),
                    float(known.max()),
                    len(rates),
                    len(rates) - len(known),
                    dash=" ".join(map(str, dash)) if dash[1] else "",
                )
            )
    return found


def _name(recording: Recording) -> str:
    return recording.sensor.name if recording.sensor else recording.file_name


def _role(recording: Recording) -> str:
    if recording.sensor is None:
        return "unknown"
    return "reference" if recording.sensor.is_reference else "tested"
