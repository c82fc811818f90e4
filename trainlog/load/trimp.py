"""Banister's training impulse, of a trace and of a heart-rate histogram."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from trainlog.trace import FloatArray

RATES = np.arange(256.0)
"""Heart rates in bpm at which a histogram counts seconds."""


@dataclass(frozen=True)
class Weighting:
    """Weight ``a * exp(b * x)`` of a minute at the fraction ``x`` of heart-rate reserve."""

    a: float
    b: float


# Banister EW (1991), in MacDougall, Wenger & Green (eds), Physiological Testing of the
# High-Performance Athlete; constants from memory and from secondary sources.
MEN = Weighting(0.64, 1.92)
WOMEN = Weighting(0.86, 1.67)


def load_per_minute(
    heart_rate: FloatArray, resting: FloatArray | float, maximum: FloatArray | float, weighting: Weighting
) -> FloatArray:
    """Training impulse that one minute at a heart rate adds.

    Parameters
    ----------
    heart_rate : array
        Heart rate in bpm; NaN stays NaN.
    resting, maximum : array or float
        Resting and maximum heart rate in bpm, broadcast against ``heart_rate``.
    weighting : Weighting
        Published or own constants.

    Returns
    -------
    array
        Arbitrary units a minute. A rate below resting counts as resting (0); a rate above the
        maximum is not cut, since the entered maximum may be too low.

    Raises
    ------
    ValueError
        If a maximum does not exceed its resting rate.

    References
    ----------
    Banister EW (1991), in MacDougall et al. (eds), Physiological Testing of the High-Performance Athlete.
    """
    reserve = np.asarray(maximum, dtype=float) - resting
    if np.any(reserve <= 0):
        raise ValueError("maximum heart rate must exceed resting heart rate")
    fraction = np.maximum((heart_rate - resting) / reserve, 0.0)
    return fraction * weighting.a * np.exp(weighting.b * fraction)


def trimp(heart_rate: FloatArray, resting: float, maximum: float, weighting: Weighting) -> float:
    """Banister's training impulse of a 1 Hz trace.

    Parameters
    ----------
    heart_rate : array, shape (seconds,)
        Heart rate in bpm; NaN where nothing was recorded.
    resting, maximum : float
        Resting and maximum heart rate in bpm.
    weighting : Weighting
        Published or own constants.

    Returns
    -------
    float
        Load of the recorded seconds in arbitrary units; what the missing seconds held is not
        this function's guess.

    References
    ----------
    Banister EW (1991), in MacDougall et al. (eds), Physiological Testing of the High-Performance Athlete.

    Examples
    --------
    >>> round(trimp(np.full(3600, 150.0), 50.0, 190.0, MEN), 4)
    108.0954
    """
    return float(np.nansum(load_per_minute(heart_rate, resting, maximum, weighting)) / 60)


def histogram(heart_rate: FloatArray) -> FloatArray:
    """Seconds spent at each whole heart rate, shape (256,).

    A rate between two whole bpm counts toward both in proportion, so the mean rate is kept exactly
    and the load to about one part in ten thousand. Features kept this way let a refit, or a change
    of maximum heart rate, do without the trace.
    """
    known = heart_rate[np.isfinite(heart_rate)].clip(0, 254.999)
    below = np.floor(known).astype(int)
    share = known - below
    counts = np.bincount(below, 1 - share, minlength=256) + np.bincount(below + 1, share, minlength=256)
    return counts.astype(np.float64)


def histogram_load(seconds_at_rate: FloatArray, per_minute: FloatArray) -> FloatArray:
    """Load of a histogram.

    Parameters
    ----------
    seconds_at_rate : array, shape (256,)
        Result of ``histogram``.
    per_minute : array, shape (256,) or (draws, 256)
        ``load_per_minute`` at ``RATES``, for one or for many draws of the physiology.

    Returns
    -------
    array, shape () or (draws,)
        Load in arbitrary units.
    """
    return per_minute @ seconds_at_rate / 60
