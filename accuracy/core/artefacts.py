"""What is wrong with one heart-rate trace, judged from that trace alone.

The other sensor is never consulted: a reference judged by the wrist would hide the wrist's errors.
"""

from __future__ import annotations

import enum
import itertools
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from trainlog.trace import FloatArray

BoolArray = NDArray[np.bool_]
Principle = Literal["electrical", "optical"]

LOWEST_RATE, HIGHEST_RATE = 30.0, 230.0
"""bpm outside which a reading is no heart at work (common practice, no source)."""

FLAT_SECONDS = 90
"""Seconds of one exactly constant rate that mean a stuck sensor (common practice, no source).

In the 92,000 s of the one-athlete sessions the longest true run is 68 s, and runs of 60 s occur.
"""

SPIKE_WINDOW, SPIKE_HEIGHT = 31, 20.0
"""Seconds of the running median, and bpm off it that make a spike (common practice, no source)."""

FASTEST_SECOND = 10.0
"""bpm of change in one second that a heart does not make (common practice, no source)."""

FASTEST_FIVE_SECONDS = 35.0
"""bpm of change in five seconds that a heart does not make (common practice, no source)."""

LONGEST_EXCURSION = 120
"""Seconds, at most, from an impossible change to its return, all wrong (common practice, no source)."""

UNSETTLED_SECONDS = 300
"""Seconds from the first reading in which electrodes may still be dry (common practice, no source)."""

ERRATIC_SECOND = 8.0
"""bpm in one second that make an erratic jump while electrodes may be dry (common practice, no source)."""

ERRATIC_JUMPS = 3
"""Erratic jumps that make a start unsettled (common practice, no source)."""

LOCK_ON_SECONDS = 240
"""Seconds an optical sensor may need to lock on (trade practice: 2 to 4 minutes; no published source)."""

LOCK_ON_CLIMB = 25.0
"""bpm in ten seconds that look like an optical sensor finding the heart rate (common practice, no source)."""

LOCK_WINDOW = 120
"""Seconds over which heart rate and step rate are compared (common practice, no source)."""

LOCK_TOLERANCE = 3.0
"""bpm between heart rate and a multiple of cadence that count as the same (common practice, no source)."""

LOCK_SHARE = 0.9
"""Share of the window's seconds that must be the same (common practice, no source)."""

LOCK_CORRELATION = 0.7
"""Correlation of heart rate and cadence within the window, at least (common practice, no source)."""

CADENCE_MULTIPLES = (0.5, 1.0, 2.0)
"""Multiples of the cadence channel compared: it may count steps or strides, and a lock may be on either."""


class Reason(enum.IntFlag):
    """Why a second of a trace is not to be believed; one bit each."""

    DROP_OUT = 1
    OUT_OF_RANGE = 2
    FLAT_LINE = 4
    SPIKE = 8
    IMPOSSIBLE_CHANGE = 16
    DRY_ELECTRODES = 32
    BEFORE_LOCK_ON = 64
    STEP_RATE_LOCK = 128


MEANINGS: Mapping[Reason, str] = {
    Reason.DROP_OUT: "no reading",
    Reason.OUT_OF_RANGE: f"outside {LOWEST_RATE:.0f} to {HIGHEST_RATE:.0f} bpm",
    Reason.FLAT_LINE: f"exactly constant for {FLAT_SECONDS} s or longer",
    Reason.SPIKE: "a spike",
    Reason.IMPOSSIBLE_CHANGE: "a change faster than a heart makes",
    Reason.DRY_ELECTRODES: "unsettled start, as with dry electrodes",
    Reason.BEFORE_LOCK_ON: "possibly before the sensor locked on",
    Reason.STEP_RATE_LOCK: "follows the step rate",
}
"""Words for a person, by reason."""

ERRATIC = Reason.OUT_OF_RANGE | Reason.SPIKE | Reason.IMPOSSIBLE_CHANGE
"""What an unsettled start is made of."""

INFORMATION_ONLY = Reason.BEFORE_LOCK_ON
"""Weak evidence: shown, and cut from nothing."""


@dataclass(frozen=True, eq=False)
class Flags:
    """Reasons by second.

    Attributes
    ----------
    codes : array of uint8, shape (seconds,)
        Sum of the ``Reason`` bits that hold at each second; 0 where nothing is wrong.
    """

    codes: NDArray[np.uint8]

    def has(self, reason: Reason) -> BoolArray:
        """Mark the seconds on which any of the reason's bits holds, shape (seconds,)."""
        return (self.codes & np.uint8(reason)) != 0

    def stretches(self) -> list[tuple[int, int, Reason]]:
        """First second, first second after, and reason of every unbroken stretch, in order of start."""
        found = [
            (start, end, reason) for reason in Reason for start, end in _runs(self.has(reason)) if end > start
        ]
        return sorted(found)


def flag(heart_rate: FloatArray, *, principle: Principle, cadence: FloatArray | None = None) -> Flags:
    """Find what is wrong with a trace without consulting another one.

    Parameters
    ----------
    heart_rate : array, shape (seconds,)
        Heart rate in bpm at 1 Hz, NaN where nothing was recorded.
    principle : {'electrical', 'optical'}
        Dry electrodes are looked for in an electrical trace; the time before lock-on (weak evidence, for
        information) and a lock on the step rate in an optical one.
    cadence : array, shape (seconds,), optional
        Steps or strides a minute on the same seconds.

    Returns
    -------
    Flags
        Reasons by second.

    Raises
    ------
    ValueError
        If the principle is unknown or the cadence has another length.
    """
    if principle not in ("electrical", "optical"):
        raise ValueError(f"a sensor is electrical or optical, not {principle!r}")
    if cadence is not None and len(cadence) != len(heart_rate):
        raise ValueError("cadence and heart rate must have as many seconds each")
    known = np.isfinite(heart_rate)
    marked = {Reason.DROP_OUT: ~known}
    if known.any():
        marked |= {
            Reason.OUT_OF_RANGE: known & ((heart_rate < LOWEST_RATE) | (heart_rate > HIGHEST_RATE)),
            Reason.FLAT_LINE: _flat(heart_rate),
            Reason.SPIKE: _spikes(heart_rate, known),
            Reason.IMPOSSIBLE_CHANGE: _impossible_changes(heart_rate),
        }
        if principle == "electrical":
            wrong = np.logical_or.reduce([mask for reason, mask in marked.items() if reason in ERRATIC])
            marked[Reason.DRY_ELECTRODES] = _dry_start(heart_rate, wrong)
        else:
            marked[Reason.BEFORE_LOCK_ON] = _start_before_lock_on(heart_rate)
            if cadence is not None:
                marked[Reason.STEP_RATE_LOCK] = _step_rate_lock(heart_rate, cadence)
    codes = np.zeros(len(heart_rate), dtype=np.uint8)
    for reason, mask in marked.items():
        codes[mask] |= np.uint8(reason)
    return Flags(codes)


def untrustworthy(flags: Flags) -> BoolArray:
    """Seconds to cut from a reference before anything is learned from it.

    Parameters
    ----------
    flags : Flags
        Of the reference trace itself; the tested trace has no say.

    Returns
    -------
    array of bool, shape (seconds,)
        True where any reason but the information-only ones holds, missing seconds included.
    """
    return (flags.codes & ~np.uint8(INFORMATION_ONLY)) != 0


def _runs(mask: BoolArray) -> list[tuple[int, int]]:
    """First and first-after index of every run of True."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], mask, [False]]).astype(np.int8)))
    return [(int(start), int(end)) for start, end in edges.reshape(-1, 2)]


def _flat(heart_rate: FloatArray) -> BoolArray:
    """Seconds in runs of one exactly constant rate of at least FLAT_SECONDS."""
    mask = np.zeros(len(heart_rate), dtype=bool)
    for start, end in _runs(np.diff(heart_rate) == 0):
        if end - start + 1 >= FLAT_SECONDS:
            mask[start : end + 1] = True
    return mask


def _spikes(heart_rate: FloatArray, known: BoolArray) -> BoolArray:
    """Seconds far off a running median of the recorded seconds."""
    mask = np.zeros(len(heart_rate), dtype=bool)
    recorded = heart_rate[known]
    middle = ndimage.median_filter(recorded, size=SPIKE_WINDOW, mode="nearest")
    mask[known] = np.abs(recorded - middle) > SPIKE_HEIGHT
    return mask


def _impossible_changes(heart_rate: FloatArray) -> BoolArray:
    """Seconds of changes too fast for a heart, and what lies between one and its return."""
    mask = np.zeros(len(heart_rate), dtype=bool)
    changes = np.zeros(len(heart_rate))
    for span, most in ((5, FASTEST_FIVE_SECONDS), (1, FASTEST_SECOND)):
        change = heart_rate[span:] - heart_rate[:-span]
        starts = np.flatnonzero(np.abs(change) > most)
        changes[starts] = change[starts]
        for offset in range(span + 1):
            mask[starts + offset] = True
    at = np.flatnonzero(changes)
    for start, end in itertools.pairwise(at):
        if changes[start] * changes[end] < 0 and end - start <= LONGEST_EXCURSION:
            mask[start + 1 : end + 1] = True
    return mask


def _dry_start(heart_rate: FloatArray, wrong: BoolArray) -> BoolArray:
    """Mark from the first reading to the last erratic second of the first minutes."""
    mask = np.zeros(len(heart_rate), dtype=bool)
    first = int(np.argmax(np.isfinite(heart_rate)))
    last = min(first + UNSETTLED_SECONDS, len(heart_rate))
    jumps = np.abs(np.diff(heart_rate[first:last])) > ERRATIC_SECOND
    steps = np.abs(heart_rate[first + 5 : last] - heart_rate[first : last - 5]) > FASTEST_FIVE_SECONDS
    if jumps.sum() >= ERRATIC_JUMPS or steps.any():
        erratic = wrong[first:last].copy()
        erratic[1:] |= jumps
        mask[first : first + int(np.flatnonzero(erratic)[-1]) + 1] = True
    return mask


def _start_before_lock_on(heart_rate: FloatArray) -> BoolArray:
    """From the first reading to the end of the last steep change of the first minutes."""
    mask = np.zeros(len(heart_rate), dtype=bool)
    first = int(np.argmax(np.isfinite(heart_rate)))
    start = heart_rate[first : first + LOCK_ON_SECONDS]
    steep = np.flatnonzero(np.abs(start[10:] - start[:-10]) >= LOCK_ON_CLIMB)
    if len(steep):
        mask[first : first + int(steep[-1]) + 11] = True
    return mask


def _step_rate_lock(heart_rate: FloatArray, cadence: FloatArray) -> BoolArray:
    """Seconds of windows in which heart rate stays at a multiple of cadence and moves with it."""
    mask = np.zeros(len(heart_rate), dtype=bool)
    if len(heart_rate) < LOCK_WINDOW:
        return mask
    correlation = _rolling_correlation(heart_rate, cadence)
    for multiple in CADENCE_MULTIPLES:
        near = np.zeros(len(heart_rate), dtype=bool)
        np.less_equal(np.abs(heart_rate - multiple * cadence), LOCK_TOLERANCE, out=near)
        locked = (_rolling_sum(near) >= LOCK_SHARE * LOCK_WINDOW) & (correlation >= LOCK_CORRELATION)
        covered = np.convolve(locked, np.ones(LOCK_WINDOW, dtype=int)) > 0
        mask |= covered & near
    return mask


def _rolling_sum(values: NDArray) -> FloatArray:
    """Sum every LOCK_WINDOW seconds on end, shape (seconds - LOCK_WINDOW + 1,)."""
    sums = np.concatenate([[0.0], np.cumsum(values, dtype=float)])
    return sums[LOCK_WINDOW:] - sums[:-LOCK_WINDOW]


def _rolling_correlation(first: FloatArray, second: FloatArray) -> FloatArray:
    """Correlation within every LOCK_WINDOW seconds on end, 0 where undefined."""
    both = np.isfinite(first) & np.isfinite(second)
    if not both.any():
        return np.zeros(len(first) - LOCK_WINDOW + 1)
    x, y = (np.where(both, values - values[both].mean(), 0.0) for values in (first, second))
    count = np.maximum(_rolling_sum(both), 1.0)
    sum_x, sum_y = _rolling_sum(x), _rolling_sum(y)
    variances = (_rolling_sum(x * x) - sum_x**2 / count) * (_rolling_sum(y * y) - sum_y**2 / count)
    covariance = _rolling_sum(x * y) - sum_x * sum_y / count
    defined = variances > 1e-6
    return np.where(defined, covariance / np.sqrt(np.where(defined, variances, 1.0)), 0.0)
