"""A recording's signals on one grid of whole UTC seconds: the currency of the pure core."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

LONGEST_BRIDGED_GAP = 30
"""Seconds; a longer silence is missing, not interpolated (common practice, no source)."""

LONGEST_RECORDING = 48 * 3600
"""Seconds; a longer span is a damaged clock, not a workout (common practice, no source)."""

CHANNELS = ("heart_rate", "cadence", "speed", "power", "altitude", "latitude", "longitude")
"""Channels of a trace: bpm, revolutions or strides a minute, m/s, W, m, degrees, degrees."""


@dataclass(frozen=True, eq=False)
class Trace:
    """Signals of one recording at 1 Hz.

    Attributes
    ----------
    start : datetime
        Instant of the first sample: UTC, a whole second. Sample ``i`` is at ``start + i`` seconds.
    heart_rate : array, shape (seconds,)
        Heart rate in bpm, NaN where nothing was recorded.
    others : mapping of str to array, shape (seconds,)
        Further channels of ``CHANNELS`` that the recording has, NaN for gaps.
    rr_seconds, rr_ms : array, shape (beats,)
        When each RR interval ended, in seconds since ``start``, and its length in milliseconds.
    """

    start: datetime
    heart_rate: FloatArray
    others: Mapping[str, FloatArray] = field(default_factory=dict)
    rr_seconds: FloatArray = field(default_factory=lambda: np.empty(0))
    rr_ms: FloatArray = field(default_factory=lambda: np.empty(0))

    def __post_init__(self) -> None:
        if self.start.utcoffset() != timedelta(0) or self.start.microsecond:
            raise ValueError(f"a trace starts at a whole UTC second, not at {self.start!r}")
        unknown = set(self.others) - set(CHANNELS[1:])
        if unknown:
            raise ValueError(f"unknown channels: {sorted(unknown)}")
        if any(values.shape != self.heart_rate.shape for values in self.others.values()):
            raise ValueError("every channel of a trace has as many seconds as its heart rate")
        if self.rr_seconds.shape != self.rr_ms.shape:
            raise ValueError("every RR interval has one time")

    @property
    def seconds(self) -> int:
        """Length in seconds: the number of samples."""
        return len(self.heart_rate)

    @property
    def end(self) -> datetime:
        """First instant after the last sample."""
        return self.start + timedelta(seconds=self.seconds)


def window(values: FloatArray, begins: int, seconds: int) -> FloatArray:
    """Stretch of a 1 Hz signal, NaN where it reaches beyond the signal.

    Parameters
    ----------
    values : array, shape (n,)
        Signal at 1 Hz.
    begins : int
        Index of the first second wanted; negative before the signal's start.
    seconds : int
        Length wanted.

    Returns
    -------
    array, shape (seconds,)
        A copy of the wanted stretch.
    """
    result = np.full(seconds, np.nan)
    first, last = max(begins, 0), min(begins + seconds, len(values))
    if first < last:
        result[first - begins : last - begins] = values[first:last]
    return result


def to_whole_seconds(
    times: FloatArray, values: FloatArray, grid: FloatArray, longest_gap: float = LONGEST_BRIDGED_GAP
) -> FloatArray:
    """Put irregular samples on a grid by linear interpolation, never across a long gap.

    Parameters
    ----------
    times : array, shape (samples,)
        Seconds, increasing strictly.
    values : array, shape (samples,)
        Value at each time; NaN samples are left out before interpolating.
    grid : array, shape (seconds,)
        Seconds at which values are wanted, increasing.
    longest_gap : float
        Samples further apart than this many seconds have NaN between them.

    Returns
    -------
    array, shape (seconds,)
        NaN before the first sample, after the last, and in long gaps.
    """
    known = np.isfinite(values)
    times, values = times[known], values[known]
    if len(times) == 0:
        return np.full(len(grid), np.nan)
    result = np.interp(grid, times, values, left=np.nan, right=np.nan)
    for gap in np.flatnonzero(np.diff(times) > longest_gap):
        first = np.searchsorted(grid, times[gap], side="right")
        result[first : np.searchsorted(grid, times[gap + 1], side="left")] = np.nan
    return result
