"""A weighting of the training impulse of one's own, from a lactate test."""

from __future__ import annotations

import numpy as np

from trainlog.load.trimp import Weighting
from trainlog.trace import FloatArray

LEAST_POINTS = 4
"""Points of the test: two constants are fitted, and something has to be left to contradict them (ours)."""

LEAST_SPAN = 0.2
"""Fraction of heart-rate reserve between the lowest and the highest point (our rule, no source)."""


def individual_weighting(
    heart_rate: FloatArray, lactate: FloatArray, resting: float, maximum: float
) -> Weighting:
    """Weight of a minute fitted to one's own blood lactate, by Manzi's method.

    Blood lactate rises about exponentially with the fraction of heart-rate reserve; the curve fitted to
    the athlete's own points, ``a * exp(b * x)``, takes the place of the published constants.

    Parameters
    ----------
    heart_rate : array, shape (points,)
        Heart rate at the end of each stage in bpm, in any order.
    lactate : array, shape (points,)
        Blood lactate of each stage in mmol/l.
    resting, maximum : float
        Resting and maximum heart rate in bpm.

    Returns
    -------
    Weighting
        Loads with it are comparable with each other, not with loads under another weighting: ``a`` is in
        mmol/l here.

    Raises
    ------
    ValueError
        If the two arrays differ in length, there are fewer than four points or a value is not a number,
        a lactate is not positive, the maximum does not exceed resting, a point lies below resting or
        above the maximum, the points span less than a fifth of the reserve, or lactate does not rise
        with heart rate.

    Notes
    -----
    Fitted by least squares on the logarithm of lactate, so that an error of 10% counts alike at 1 and
    at 10 mmol/l; how the paper fitted is not known to us. Single stages may fall, as they do at the
    start of many tests: it is the fitted curve that has to rise, and the last point above the first.

    References
    ----------
    Manzi V, Iellamo F, Impellizzeri F, D'Ottavio S, Castagna C (2009). Med Sci Sports Exerc
    41(11):2090-2096, doi 10.1249/MSS.0b013e3181a6a959. That heart rate and lactate of an incremental test
    make the weights is in its abstract; the form of the curve and the pages are from secondary sources and
    memory.

    Examples
    --------
    >>> rates = np.array([110.0, 130.0, 150.0, 170.0, 185.0])
    >>> measured = 0.5 * np.exp(2.5 * (rates - 50) / 140)
    >>> own = individual_weighting(rates, measured, 50.0, 190.0)
    >>> round(own.a, 6), round(own.b, 6)
    (0.5, 2.5)
    """
    rates, levels = np.asarray(heart_rate, dtype=float), np.asarray(lactate, dtype=float)
    _check(rates, levels, resting, maximum)
    fraction = (rates - resting) / (maximum - resting)
    if np.ptp(fraction) < LEAST_SPAN:
        raise ValueError("the points must span at least a fifth of the heart-rate reserve")
    from_mean = fraction - fraction.mean()
    slope = float(from_mean @ np.log(levels) / (from_mean @ from_mean))
    intercept = float(np.log(levels).mean() - slope * fraction.mean())
    if slope <= 0 or levels[np.argmax(rates)] <= levels[np.argmin(rates)]:
        raise ValueError("lactate must rise with heart rate")
    return Weighting(float(np.exp(intercept)), slope)


def _check(rates: FloatArray, levels: FloatArray, resting: float, maximum: float) -> None:
    if rates.ndim != 1 or rates.shape != levels.shape:
        raise ValueError("every heart rate needs one lactate")
    if len(rates) < LEAST_POINTS:
        raise ValueError(f"at least {LEAST_POINTS} points are needed, not {len(rates)}")
    if not (np.all(np.isfinite(rates)) and np.all(np.isfinite(levels))):
        raise ValueError("heart rates and lactates must be numbers")
    if np.any(levels <= 0):
        raise ValueError("lactate must be positive")
    if not maximum > resting:
        raise ValueError("maximum heart rate must exceed resting heart rate")
    if np.any(rates < resting) or np.any(rates > maximum):
        raise ValueError("every point must lie between resting and maximum heart rate")
