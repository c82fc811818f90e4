"""The files that every round adds: three sessions worn with strap and wrist, and one with the wrist alone."""

from datetime import UTC, datetime, timedelta

import numpy as np

from fixtures import csv_writer
from tests.faults.rounds.hook.sitecustomize import POISON
from trainlog.originals import digest
from trainlog.readers.reading import Segment
from trainlog.trace import Trace

FIRST = datetime(2026, 3, 2, 6, 30, tzinfo=UTC)
SECONDS = 1500


def _file(day: int, device: str, share: float) -> bytes:
    start = FIRST + timedelta(days=day)
    time = np.arange(SECONDS)
    # A heart that wanders: an exactly constant one would rightly be taken for a stuck sensor.
    rate = 70 + 70 * (1 - np.exp(-time / 120)) + 12 * np.sin(time / (60 + 9 * day)) + 2 * np.sin(time / 7)
    sport = ("running", "lifting")[day % 2]
    return csv_writer.write(
        Trace(start, np.round(rate * share)),
        device,
        [Segment(start, start + timedelta(seconds=SECONDS), sport)],
    )


FILES = {
    f"{day} {device}.csv": _file(day, device, share)
    for day, devices in enumerate(
        [
            {"strap": 1.0, "wrist": 0.93},
            {"strap": 1.0, "wrist": 0.9},
            {"strap": 1.0, "wrist": 0.95},
            {"wrist": 0.92},
        ]
    )
    for device, share in devices.items()
}
"""Content by name."""

HASHES = {digest(content): name for name, content in FILES.items()}

POISONED = b"time,heart_rate\n# " + POISON + b"\n"
"""Kills the worker that reads it."""
