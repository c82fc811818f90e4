"""An optical sensor that reads the step rate instead of the heart's.

From the tested trace and the cadence alone a lock shows in two ways: the rate moves with the cadence, or it
leapt onto it, as no heart does. A rate that merely stays at a steady cadence may be the heart's own, and is
noticed only where it is as tight on it as a count of steps would be; only a reference that departs tells, and
``lock_confirmed`` asks it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from accuracy.core.traces.detectors import BoolArray, runs
from trainlog.trace import FloatArray

if TYPE_CHECKING:
    from accuracy.core.traces.artefacts import Flags

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

LEAP_REACH, LEAP_HEIGHT = 12, 9.0
"""Seconds before the rate came near the step rate, and bpm it must then be off (ours).

A heart that settles near the step rate by an exponential with a time constant of 20 s was 5.5 bpm off 12 s
before it came within 3 bpm. How the rate leaves tells nothing: a heart that recovers falls as fast.
"""

TIGHT_BPM, TIGHT_SHARE = 1.5, 0.75
"""bpm off a multiple of cadence, and share of the near seconds within it, for a rate to be noticed (ours).

A sensor that counts steps reads the step rate to the rounding of both; a heart that happens to be near it is
anywhere within ``LOCK_TOLERANCE``, and so within 1.5 bpm about half of the time.
"""

DEPARTS_BPM, DEPARTS_PERCENT = 5.0, 10.0
"""bpm and percent of the reference, the greater, beyond which a tested rate departs (as EC13's tolerance)."""


def step_rate_lock(heart_rate: FloatArray, cadence: FloatArray) -> tuple[BoolArray, BoolArray]:
    """Seconds locked on the step rate, and seconds that only stay near it.

    Parameters
    ----------
    heart_rate : array, shape (seconds,)
        Of the tested sensor, bpm, NaN for gaps.
    cadence : array, shape (seconds,)
        Steps or strides a minute on the same seconds, NaN for gaps.

    Returns
    -------
    locked, near : array of bool, shape (seconds,)
        Within ``LOCK_TOLERANCE`` of a multiple of cadence for most of two minutes, and moving with it or
        come onto it by a leap; and such seconds without either, if tight on it. Never both.
    """
    locked, near = np.zeros(len(heart_rate), dtype=bool), np.zeros(len(heart_rate), dtype=bool)
    if len(heart_rate) < LOCK_WINDOW:
        return locked, near
    correlation = _rolling_correlation(heart_rate, cadence)
    for multiple in CADENCE_MULTIPLES:
        apart = np.abs(heart_rate - multiple * cadence)
        close = np.less_equal(apart, LOCK_TOLERANCE)
        stays = _rolling_sum(close) >= LOCK_SHARE * LOCK_WINDOW
        if not stays.any():
            continue
        follows = _covered(stays & (correlation >= LOCK_CORRELATION)) & close
        locked |= follows
        for start, end in runs(_covered(stays)):
            there = slice(start, end)
            inside = close[there] & ~follows[there]
            leapt = _far(apart, start + int(np.argmax(close[there])) - LEAP_REACH)
            if leapt:
                locked[there] |= inside
            elif np.mean(apart[there][close[there]] <= TIGHT_BPM) >= TIGHT_SHARE:
                near[there] |= inside
    return locked, near & ~locked


def lock_confirmed(flags: Flags, reference: FloatArray, tested: FloatArray) -> list[tuple[int, int, bool]]:
    """Whether the reference departs while the tested sensor was at the step rate.

    Parameters
    ----------
    flags : Flags
        Of the tested trace.
    reference, tested : array, shape (seconds,)
        Heart rate in bpm on the flags' seconds, NaN for gaps.

    Returns
    -------
    list of (start, end, confirmed)
        Every stretch flagged as locked on or near the step rate (gaps up to ten seconds closed), and whether
        the tested rate departs by more than 5 bpm and 10% in most of the seconds that both know.

    Raises
    ------
    ValueError
        If the arrays and the flags differ in length.
    """
    if not len(flags.codes) == len(reference) == len(tested):
        raise ValueError("flags and both traces must have as many seconds each")
    apart = departs(reference, tested)
    known = np.isfinite(reference) & np.isfinite(tested)
    return [
        (start, end, bool(2 * apart[start:end].sum() > max(known[start:end].sum(), 1)))
        for start, end in closed_runs(flags.at_step_rate())
    ]


def departs(reference: FloatArray, tested: FloatArray) -> BoolArray:
    """Mark seconds on which the tested rate is off by more than 5 bpm and 10%; False where either is NaN."""
    tolerance = np.maximum(reference * DEPARTS_PERCENT / 100, DEPARTS_BPM)
    return np.greater(np.abs(tested - reference), tolerance)


def closed_runs(mask: BoolArray, longest_gap: int = 10) -> list[tuple[int, int]]:
    """Runs of True, those no more than ``longest_gap`` seconds apart taken as one."""
    closed: list[tuple[int, int]] = []
    for start, end in runs(mask):
        if closed and start - closed[-1][1] <= longest_gap:
            closed[-1] = (closed[-1][0], end)
        else:
            closed.append((start, end))
    return closed


def _far(apart: FloatArray, at: int) -> bool:
    """Whether the rate is well off the step rate around a second, by the median of five."""
    around = apart[max(at - 2, 0) : max(at + 3, 0)]
    around = around[np.isfinite(around)]
    return bool(len(around) and np.median(around) >= LEAP_HEIGHT)


def _covered(windows: BoolArray) -> BoolArray:
    """Seconds in any of the marked windows of LOCK_WINDOW seconds."""
    starts = np.concatenate([windows.astype(np.int64), np.zeros(LOCK_WINDOW - 1, dtype=np.int64)])
    sums = np.cumsum(starts)
    return sums - np.concatenate([np.zeros(LOCK_WINDOW, dtype=np.int64), sums[:-LOCK_WINDOW]]) > 0


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
