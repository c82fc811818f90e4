"""Logs in which two wrist sensors and a strap were worn, together or on other days."""

from __future__ import annotations

from datetime import timedelta

import numpy as np

from accuracy.core.agreement import differences
from accuracy.models import Pair, histogram_bytes
from tests.accuracy.pair_builders import work
from tests.builders import MORNING, csv_file, imported, sensor, strap
from trainlog import trace_blob
from trainlog.load.trimp import histogram
from trainlog.models import Athlete, Part, Sensor
from trainlog.trace import FloatArray, Trace


def worn(
    owner: Athlete,
    day: int,
    *,
    left: float | None = None,
    right: float | None = None,
    activity: str = "run",
    **more,
) -> list[Pair]:
    """Session of ten minutes in which sensors read so many bpm above the strap; None was not worn."""
    offsets = {"left": left, "right": right}
    start = MORNING + timedelta(days=day)
    reference = work()
    sports = ({"run": "running", "ride": "cycling"}[activity],)
    strap_file = imported(owner, csv_file(start, bpm=140, device="chest", sports=sports), "strap.csv")
    strap_file.sensor = _sensor(owner, more.get("reference", "chest"), strap)
    strap_file.save()
    part = Part.objects.get(workout=strap_file.workout)
    pairs = []
    for name, offset in offsets.items():
        if offset is None:
            continue
        tested = reference + offset
        file = imported(
            owner, csv_file(start, bpm=126 + len(name), device=name, sports=sports), f"{name}.csv"
        )
        file.sensor = _sensor(owner, name, sensor)
        file.save()
        pairs.append(
            Pair.objects.create(
                owner=owner,
                part=part,
                reference=strap_file,
                tested=file,
                usable=more.get("usable", True),
                remarks=[],
                shift=0.0,
                shift_ambiguous=False,
                agreement={
                    "bias": differences.bias(tested - reference),
                    "mean_absolute_error": differences.mean_absolute_error(tested - reference),
                    "root_mean_squared_error": differences.root_mean_squared_error(tested - reference),
                    "mean_absolute_percentage_error": differences.mean_absolute_percentage_error(
                        reference, tested
                    ),
                },
                common_seconds=len(reference),
                reference_histogram=histogram_bytes(histogram(reference)),
                tested_histogram=histogram_bytes(histogram(tested)),
                reference_trace=_packed(start, reference),
                tested_trace=_packed(start, tested),
            )
        )
    return pairs


def _packed(start, values: FloatArray) -> bytes:
    return trace_blob.pack(Trace(start, np.asarray(values, dtype=float)))


def _sensor(owner: Athlete, name: str, make) -> Sensor:
    return Sensor.objects.of(owner).filter(name=name).first() or make(owner, name, source_key=f"csv:{name}")
