"""What a decoder found in a file, before the checks that all formats share."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np

from trainlog.readers.reading import Clock
from trainlog.trace import FloatArray


class Stretch(NamedTuple):
    """A stretch of one kind of work, in Unix seconds."""

    start: float
    end: float
    sport: str


@dataclass(frozen=True, eq=False)
class Samples:
    """Samples of one file in the order in which the file gives them.

    Attributes
    ----------
    format : str
        "fit", "gpx", "csv", "rr" or "bluetooth".
    times : array, shape (samples,)
        Unix seconds, NaN where the file gives no time.
    channels : mapping of str to array, shape (samples,)
        Signals by the names of ``trainlog.trace.CHANNELS``, NaN where nothing was recorded.
    rr_times, rr_ms : array, shape (beats,)
        Unix seconds at which each RR interval ended, and its length in milliseconds.
    source_key, clock, notes
        As in ``Reading``.
    stretches : tuple of Stretch
        What the file marks as one kind of work.
    counts_from_start : bool
        Whether the file only counted from its start, so that ``times`` already rest on a start that
        was told.
    """

    format: str
    times: FloatArray
    channels: Mapping[str, FloatArray]
    rr_times: FloatArray = field(default_factory=lambda: np.empty(0))
    rr_ms: FloatArray = field(default_factory=lambda: np.empty(0))
    source_key: str = ""
    clock: Clock = Clock.UNKNOWN
    stretches: tuple[Stretch, ...] = ()
    counts_from_start: bool = False
    notes: tuple[str, ...] = ()
