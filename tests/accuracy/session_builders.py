"""Sessions in a log, recorded by sensors that files name: "strap", "wrist" and others."""

from __future__ import annotations

from datetime import datetime, timedelta

import numpy as np

from fixtures import csv_writer
from tests import builders
from trainlog.models import Athlete, LoadEstimate
from trainlog.readers.reading import Segment
from trainlog.trace import Trace

FIRST_DAY = builders.MORNING


def file_of(start: datetime, minutes: int, *, bpm: float, device: str, sports: tuple[str, ...]) -> bytes:
    """A heart that beats about a rate: an exactly constant one would rightly be taken for a stuck sensor."""
    seconds = np.arange(minutes * 60)
    edges = [start + timedelta(seconds=i * len(seconds) // len(sports)) for i in range(len(sports) + 1)]
    return csv_writer.write(
        Trace(start, np.round(bpm + 6 * np.sin(seconds / 40) + 2 * np.sin(seconds / 7))),
        device,
        [Segment(edges[i], edges[i + 1], sport) for i, sport in enumerate(sports)],
    )


def session(
    athlete: Athlete, day: float, sport: str = "lifting", *, minutes: int = 40, **rates: float
) -> None:
    """Recordings of one day's session, by name of the device and rate in bpm."""
    start = FIRST_DAY + timedelta(days=day)
    for device, bpm in rates.items():
        content = file_of(start, minutes, bpm=bpm, device=device, sports=(sport,))
        builders.imported(athlete, content, f"{day} {device}.csv")


def estimate_of(athlete: Athlete, day: int, measure: str = "trimp") -> LoadEstimate:
    """Estimate on show of the day's only part."""
    athlete.refresh_from_db()
    return LoadEstimate.objects.get(
        part__workout__day=(FIRST_DAY + timedelta(days=day)).date(),
        measure=measure,
        source=athlete.current_source,
    )
