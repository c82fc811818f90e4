"""What the chart of a whole workout shows beyond its traces: what is likely true, and what was flagged."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from accuracy import words
from accuracy.models import Stretch
from accuracy.services.likely import likely_of_parts
from trainlog.charts.lanes import FlaggedStretch
from trainlog.charts.traces import LikelyBand
from trainlog.models import Athlete, Part, Workout


def likely_band_of(athlete: Athlete, workout: Workout, parts: Sequence[Part]) -> LikelyBand | None:
    """Likely-true heart rate on the seconds of a workout; None where no part rests on a tested sensor.

    Parameters
    ----------
    athlete : Athlete
    workout : Workout
    parts : sequence of Part
        All of the workout's, each with its workout and activity.
    """
    found = likely_of_parts(athlete, parts)
    if not found:
        return None
    seconds = round((workout.end - workout.start).total_seconds())
    bounds = np.full((3, seconds), np.nan)
    for likely in found:
        begins = round((likely.part.start - workout.start).total_seconds())
        drawn = np.array([likely.low, likely.middle, likely.high])[:, : seconds - begins]
        bounds[:, begins : begins + drawn.shape[1]] = drawn
    return LikelyBand(*bounds)


def flagged_of_workout(athlete: Athlete, workout: Workout) -> list[FlaggedStretch]:
    """Flagged stretches of a workout's recordings in its own seconds, each on its own sensor's clock."""
    rows = list(
        Stretch.objects.of(athlete)
        .filter(part__workout=workout)
        .select_related("part", "recording__sensor")
        .defer("recording__trace_blob", "histogram", "states")
        .order_by("recording__start", "recording__sha256", "part__start")
    )
    several = len({row.recording_id for row in rows}) > 1
    return [
        FlaggedStretch(
            "reference" if row.recording.sensor and row.recording.sensor.is_reference else "tested",
            begins + first,
            begins + last,
            words.meaning(reason),
            str(row.recording.sensor or row.recording.file_name) if several else None,
        )
        for row in rows
        for begins in [(row.part.start - workout.start).total_seconds()]
        for first, last, reason in row.flags
    ]
