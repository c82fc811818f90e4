"""Time by intensity: published bands of heart-rate reserve and of maximum, and three domains.

The published bands are printed in whole percents (30-39, 40-59), which leaves 39.5 in no band. Edge rule,
ours: a band reaches up to where the next begins, holds its lower edge and not its upper one.

The sources disagree. For vigorous work one table drawn from the tenth edition prints 60-84% of reserve and
85% and more for the band above, where two others print 60-89% and 90% and more; for near-maximal work some
print 95% and others 96% of maximum. Here stand 90% of reserve, as most print, and 96% of maximum, since
all print vigorous work as 77-95%. The two scales also do not agree with each other in any one athlete:
the same second may be moderate by reserve and vigorous by maximum.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from trainlog.load.trimp import RATES
from trainlog.load.zones import checked_thresholds
from trainlog.trace import FloatArray

Bands = tuple[tuple[str, float, float], ...]
"""Name, lower edge and upper edge in percent, from the lowest band to the highest, without gaps."""

BANDS_OF_RESERVE: Bands = (
    ("very light", -math.inf, 30.0),
    ("light", 30.0, 40.0),
    ("moderate", 40.0, 60.0),
    ("vigorous", 60.0, 90.0),
    ("near-maximal", 90.0, math.inf),
)
"""Bands in percent of heart-rate reserve.

American College of Sports Medicine, Guidelines for Exercise Testing and Prescription, tenth edition, and
Garber CE et al. (2011), Med Sci Sports Exerc 43(7):1334-1359, as secondary sources print them."""

BANDS_OF_MAXIMUM: Bands = (
    ("very light", -math.inf, 57.0),
    ("light", 57.0, 64.0),
    ("moderate", 64.0, 77.0),
    ("vigorous", 77.0, 96.0),
    ("near-maximal", 96.0, math.inf),
)
"""Bands in percent of maximum heart rate, from the same sources."""

DOMAINS = ("low", "threshold", "high")
"""Below the first threshold, between the two, above the second."""


def seconds_in_reserve_bands(
    seconds_at_rate: FloatArray, resting: FloatArray | float, maximum: FloatArray | float
) -> FloatArray:
    """Seconds in each band of heart-rate reserve.

    Parameters
    ----------
    seconds_at_rate : array, shape (256,)
        Seconds at each whole bpm: result of ``trimp.histogram``.
    resting, maximum : float or array, shape (DRAWS,)
        Resting and maximum heart rate in bpm.

    Returns
    -------
    array, shape (5,) or (DRAWS, 5)
        Seconds in each of ``BANDS_OF_RESERVE``; they sum to the recorded seconds.

    Raises
    ------
    ValueError
        If a maximum does not exceed its resting rate.

    References
    ----------
    See ``BANDS_OF_RESERVE``.

    Examples
    --------
    >>> from trainlog.load.trimp import histogram
    >>> seconds_in_reserve_bands(histogram(np.array([91.0, 92.0, 106.0, 134.0, 176.0])), 50.0, 190.0)
    array([1., 1., 1., 1., 1.])
    """
    resting, maximum = np.asarray(resting, dtype=float), np.asarray(maximum, dtype=float)
    reserve = maximum - resting
    if not np.all(reserve > 0):
        raise ValueError("maximum heart rate must exceed resting heart rate")
    percent = 100 * (RATES - resting[..., None]) / reserve[..., None]
    return _seconds_between(seconds_at_rate, percent, [low for _, low, _ in BANDS_OF_RESERVE[1:]])


def seconds_in_maximum_bands(seconds_at_rate: FloatArray, maximum: FloatArray | float) -> FloatArray:
    """Seconds in each band of maximum heart rate.

    Parameters
    ----------
    seconds_at_rate : array, shape (256,)
        Seconds at each whole bpm: result of ``trimp.histogram``.
    maximum : float or array, shape (DRAWS,)
        Maximum heart rate in bpm.

    Returns
    -------
    array, shape (5,) or (DRAWS, 5)
        Seconds in each of ``BANDS_OF_MAXIMUM``; they sum to the recorded seconds.

    Raises
    ------
    ValueError
        If a maximum is not positive.

    References
    ----------
    See ``BANDS_OF_MAXIMUM``.

    Examples
    --------
    >>> from trainlog.load.trimp import histogram
    >>> seconds_in_maximum_bands(histogram(np.array([113.0, 114.0, 153.0, 154.0, 192.0])), 200.0)
    array([1., 1., 1., 1., 1.])
    """
    maximum = np.asarray(maximum, dtype=float)
    if not np.all(maximum > 0):
        raise ValueError("maximum heart rate must be positive")
    percent = 100 * RATES / maximum[..., None]
    return _seconds_between(seconds_at_rate, percent, [low for _, low, _ in BANDS_OF_MAXIMUM[1:]])


def seconds_in_domains(
    seconds_at_rate: FloatArray, first_threshold: FloatArray | float, second_threshold: FloatArray | float
) -> FloatArray:
    """Seconds below, between and above the athlete's two thresholds.

    Parameters
    ----------
    seconds_at_rate : array, shape (256,)
        Seconds at each whole bpm: result of ``trimp.histogram``.
    first_threshold, second_threshold : float or array, shape (DRAWS,)
        Heart rate at the thresholds in bpm.

    Returns
    -------
    array, shape (3,) or (DRAWS, 3)
        Seconds in each of ``DOMAINS``; they sum to the recorded seconds. A rate at a threshold counts in
        the domain above it, as in ``zones.three_zones_per_minute``.

    Raises
    ------
    ValueError
        If a first threshold is not positive or not below its second.

    References
    ----------
    Lucia A et al. (2003). Med Sci Sports Exerc 35(5):872-878: the three zones; pages from memory.

    Examples
    --------
    >>> from trainlog.load.trimp import histogram
    >>> seconds_in_domains(histogram(np.array([120.0, 140.0, 164.0, 165.0])), 140.0, 165.0)
    array([1., 2., 1.])
    """
    first, second = checked_thresholds(first_threshold, second_threshold)
    return _seconds_between(seconds_at_rate, RATES, [first[..., None], second[..., None]])


def _seconds_between(
    seconds_at_rate: FloatArray, values: FloatArray, edges: Sequence[FloatArray | float]
) -> FloatArray:
    """Seconds between successive edges, in the last axis; the values stand for the whole bpm."""
    from_edge = [np.greater_equal(values, edge) @ seconds_at_rate for edge in edges]
    everything = np.broadcast_to(seconds_at_rate.sum(), np.shape(from_edge[0]))
    reached = np.stack([everything, *from_edge, np.zeros_like(everything)], axis=-1)
    return np.maximum(-np.diff(reached, axis=-1), 0.0)
