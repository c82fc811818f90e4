"""Invented traces for tests of the pure core."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np

from trainlog.readers.reading import Segment
from trainlog.trace import Trace

START = datetime(2026, 3, 1, 6, 30, tzinfo=UTC)
NOW = datetime(2026, 3, 2, tzinfo=UTC)


def workout(seconds=600, *, start=START, gap=None, seed=1):
    """Whole-number signals of a workout; ``gap`` is a slice of seconds without heart rate."""
    random = np.random.default_rng(seed)
    time = np.arange(seconds)
    heart_rate = np.rint(
        130 + 25 * np.sin(time / 90) + np.cumsum(random.normal(0, 0.3, seconds)).clip(-20, 20)
    )
    if gap is not None:
        heart_rate[gap] = np.nan
    others = {
        "cadence": np.rint(85 + 5 * np.sin(time / 30)),
        "speed": np.round(3 + np.sin(time / 60), 3),
        "power": np.rint(200 + 50 * np.sin(time / 45)),
        "altitude": np.round(40 + 0.2 * np.rint(5 * np.sin(time / 200)), 1),
    }
    return Trace(start=start, heart_rate=heart_rate, others=others)


def with_rr(trace, interval_ms=500):
    """The same trace with a steady heartbeat."""
    ends = np.arange(interval_ms, 1000 * (trace.seconds - 1), interval_ms) / 1000
    return Trace(
        start=trace.start,
        heart_rate=trace.heart_rate,
        others=trace.others,
        rr_seconds=ends,
        rr_ms=np.full(len(ends), float(interval_ms)),
    )


def segment(trace, sport, begins=0, ends=None):
    """A segment of a trace, in seconds from its start."""
    ends = trace.seconds if ends is None else ends
    return Segment(trace.start + timedelta(seconds=begins), trace.start + timedelta(seconds=ends), sport)
