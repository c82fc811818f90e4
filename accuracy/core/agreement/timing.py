"""When the tested sensor finds the heart rate, and how late it follows."""

from __future__ import annotations

import numpy as np

from accuracy.core.agreement.differences import close
from accuracy.core.traces.align import Shift, estimate_shift
from trainlog.trace import FloatArray

LOCKED_SECONDS = 30
"""Seconds a sensor must stay close to count as locked on (common practice, no source)."""


def lock_on_time(reference: FloatArray, tested: FloatArray) -> float | None:
    """Seconds until the tested sensor has found the heart rate.

    The first second from which the tested trace stays within 10% of the reference or 5 bpm, whichever is
    greater, for ``LOCKED_SECONDS`` seconds on end, all of them valid in both (common practice, no source).

    Parameters
    ----------
    reference, tested : array, shape (seconds,)
        Heart rate in bpm at 1 Hz, NaN for gaps.

    Returns
    -------
    float or None
        Seconds since the traces' first sample; None if it never happens.
    """
    with_gaps = np.isfinite(reference) & np.isfinite(tested)
    near = np.zeros(len(reference), dtype=int)
    near[with_gaps] = close(reference[with_gaps], tested[with_gaps])
    run = np.concatenate([[0], np.cumsum(near)])
    if len(run) <= LOCKED_SECONDS:
        return None
    locked = np.flatnonzero(run[LOCKED_SECONDS:] - run[:-LOCKED_SECONDS] == LOCKED_SECONDS)
    return float(locked[0]) if len(locked) else None


def lag(reference: FloatArray, tested: FloatArray) -> Shift:
    """How late the tested sensor follows, where both clocks are known to agree.

    Parameters
    ----------
    reference, tested : array, shape (seconds,)
        Heart rate in bpm on synchronised clocks: with clocks that may differ a lag cannot be told from
        the clocks' offset, and this is no answer.

    Returns
    -------
    Shift
        Positive seconds are late; ambiguous where the traces have no edges in common.

    Raises
    ------
    ValueError
        If the two arrays differ in length.
    """
    return estimate_shift(reference, tested)
