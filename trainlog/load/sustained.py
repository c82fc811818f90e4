"""Highest heart rate that was held for a while, and whether it lies above what was entered as the maximum."""

from __future__ import annotations

import numpy as np
from scipy import ndimage

from trainlog.trace import FloatArray

LOWEST, HIGHEST = 25.0, 240.0
"""bpm; what lies outside is no reading of a heart and is skipped (common practice, no source)."""

ODD_SECONDS = 30
"""Seconds above the maximum that are more than a stray reading (our rule, no source)."""


def highest_sustained(heart_rate: FloatArray, seconds: int) -> float | None:
    """Highest rate that was reached or exceeded for so many seconds on end.

    Parameters
    ----------
    heart_rate : array, shape (n,)
        Heart rate in bpm at 1 Hz, NaN where nothing was recorded.
    seconds : int
        Length of the stretch, at least 1.

    Returns
    -------
    float or None
        bpm. None where no stretch of that length is without a gap or a value outside ``LOWEST`` to
        ``HIGHEST``.

    Raises
    ------
    ValueError
        If ``seconds`` is less than 1.

    Examples
    --------
    >>> highest_sustained(np.array([150.0, 171.0, 170.0, 172.0, 190.0, 160.0]), 3)
    170.0
    """
    place = peak_place(heart_rate, seconds)
    return None if place is None else float(np.min(heart_rate[place : place + seconds]))


def peak_place(heart_rate: FloatArray, seconds: int) -> int | None:
    """First second of the stretch that ``highest_sustained`` speaks of; None where there is none.

    Raises
    ------
    ValueError
        If ``seconds`` is less than 1.

    Examples
    --------
    >>> peak_place(np.array([150.0, 171.0, 170.0, 172.0, 190.0, 160.0]), 3)
    1
    """
    if seconds < 1:
        raise ValueError("a rate is held for at least one second")
    if len(heart_rate) < seconds:
        return None
    sound = np.isfinite(heart_rate) & (heart_rate >= LOWEST) & (heart_rate <= HIGHEST)
    # The lowest of each stretch, at its first second.
    lowest = ndimage.minimum_filter1d(np.where(sound, heart_rate, -np.inf), seconds, origin=-(seconds // 2))[
        : len(heart_rate) - seconds + 1
    ]
    place = int(np.argmax(lowest))
    return place if np.isfinite(lowest[place]) else None


def is_odd(sustained: float | None, maximum: float, error: float) -> bool:
    """Whether a sustained rate lies above the entered maximum by more than its standard error.

    Parameters
    ----------
    sustained : float or None
        bpm, held for ``ODD_SECONDS``.
    maximum, error : float
        Maximum heart rate and its standard error in bpm.

    Examples
    --------
    >>> is_odd(194.0, 190.0, 3.0), is_odd(193.0, 190.0, 3.0)
    (True, False)
    """
    return sustained is not None and sustained > maximum + error
