"""A slow and a fast response to training, and their difference.

Days as in ``trend``: rest is a row of zeros, an unknown day a row of draws. Whatever the difference is called
elsewhere, it is a shape over time and no measurement of an athlete.
"""

from __future__ import annotations

import numpy as np

from trainlog.load.days import recursive
from trainlog.trace import FloatArray

SLOW_DAYS, FAST_DAYS = 45.0, 15.0
"""Time constants of the two responses in days (Morton, Fitz-Clarke & Banister 1990, from memory). Later
use often takes 42 and 7; nobody's own constants are known without performance tests to fit them to."""

SLOW_GAIN, FAST_GAIN = 1.0, 2.0
"""Weights of the two responses in their difference (the same paper, from memory)."""


def response(daily: FloatArray, time_constant: float, before: FloatArray | None = None) -> FloatArray:
    """Decaying sum of daily loads: one of the two responses to training.

    ``g(t) = g(t - 1) * exp(-1 / time_constant) + load(t)``. Same-day convention: a day's load counts in
    full at the end of its own day and has decayed once at the end of the next; texts vary in this.

    Parameters
    ----------
    daily : array, shape (days, DRAWS)
        Load of each day.
    time_constant : float
        Days after which 37% of a load is left.
    before : array, shape (DRAWS,), or None
        Response at the end of the day before the first; None starts from nothing.

    Returns
    -------
    array, shape (days, DRAWS)
        Response at the end of each day in the unit of the load. A sum, not an average: see
        ``response_average``.

    Raises
    ------
    ValueError
        If a load is not a finite number or the time constant not positive.

    References
    ----------
    Morton RH, Fitz-Clarke JR, Banister EW (1990). J Appl Physiol 69(3):1171-1177.

    Examples
    --------
    >>> response(np.array([[100.0], [0.0]]), 42.0).ravel().round(4)
    array([100.    ,  97.6472])
    """
    return recursive(daily, 1.0, _decay(time_constant), before, seed_with_first=False)


def response_average(decaying_sum: FloatArray, time_constant: float) -> FloatArray:
    """A response as an average of daily load: of equal days, for long, it is the load of one of them.

    Parameters
    ----------
    decaying_sum : array
        Result of ``response``.
    time_constant : float
        Its time constant in days.

    Returns
    -------
    array
        Load a day: the response times ``1 - exp(-1 / time_constant)``, so that a slow and a fast one can
        be drawn on one axis.

    Raises
    ------
    ValueError
        If the time constant is not positive.

    Examples
    --------
    >>> response_average(response(np.full((400, 1), 100.0), 15.0), 15.0)[-1].round(6)
    array([100.])
    """
    return decaying_sum * (1 - _decay(time_constant))


def net_response(
    slow: FloatArray, fast: FloatArray, slow_gain: float = SLOW_GAIN, fast_gain: float = FAST_GAIN
) -> FloatArray:
    """Weighted difference of the slow and the fast response, ``slow_gain * slow - fast_gain * fast``.

    Parameters
    ----------
    slow, fast : array
        Results of ``response`` with a long and a short time constant.
    slow_gain, fast_gain : float
        Weights, which only performance tests can tell for one athlete.

    Returns
    -------
    array
        In the unit of the load; a shape over time, no performance and no advice by itself.

    References
    ----------
    Morton RH, Fitz-Clarke JR, Banister EW (1990). J Appl Physiol 69(3):1171-1177. Gains from memory.

    Examples
    --------
    >>> net_response(np.array([100.0]), np.array([100.0]))
    array([-100.])
    """
    return slow_gain * slow - fast_gain * fast


def days_until_gain(
    slow_days: float = SLOW_DAYS,
    fast_days: float = FAST_DAYS,
    slow_gain: float = SLOW_GAIN,
    fast_gain: float = FAST_GAIN,
) -> float:
    """Days after one load until its net response is no longer negative.

    Parameters
    ----------
    slow_days, fast_days : float
        Time constants in days, the slow one longer.
    slow_gain, fast_gain : float
        Weights, positive.

    Returns
    -------
    float
        Days; negative where the load helps from the first day on.

    Raises
    ------
    ValueError
        If the slow time constant is not the longer one, or a value is not positive.

    References
    ----------
    Fitz-Clarke JR, Morton RH, Banister EW (1991). J Appl Physiol 71(3):1151-1158. From memory.

    Examples
    --------
    >>> round(days_until_gain(45, 15, 1, 2), 4)
    15.5958
    """
    return _crossing(slow_days, fast_days, fast_gain, slow_gain)


def days_until_greatest_gain(
    slow_days: float = SLOW_DAYS,
    fast_days: float = FAST_DAYS,
    slow_gain: float = SLOW_GAIN,
    fast_gain: float = FAST_GAIN,
) -> float:
    """Days after one load until its net response is greatest.

    Parameters, errors and source as in ``days_until_gain``.

    Returns
    -------
    float
        Days.

    Examples
    --------
    >>> round(days_until_greatest_gain(45, 15, 1, 2), 4)
    40.3146
    """
    return _crossing(slow_days, fast_days, fast_gain * slow_days, slow_gain * fast_days)


def _crossing(slow_days: float, fast_days: float, fast_weight: float, slow_weight: float) -> float:
    """Days at which the slow exponential, so weighted, overtakes the fast one."""
    if not slow_days > fast_days > 0 or not (fast_weight > 0 and slow_weight > 0):
        raise ValueError(
            "time constants and gains must be positive and the slow time constant the longer one"
        )
    return float(slow_days * fast_days / (slow_days - fast_days) * np.log(fast_weight / slow_weight))


def _decay(time_constant: float) -> float:
    if not time_constant > 0:
        raise ValueError("a time constant must be positive")
    return float(np.exp(-1 / time_constant))
