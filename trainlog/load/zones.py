"""Loads that count a minute by the zone of its heart rate: weights for every whole bpm.

The result of every function here goes where that of ``trimp.load_per_minute`` goes: a histogram times
the weights over 60 is the load (``trimp.histogram_load``), and weights of shape (DRAWS, 256) give DRAWS
loads. A rate between two whole bpm counts toward both (``trimp.histogram``), so at the edge of a zone it
counts as a mixture of the two zones.

Edge rule, ours, since the sources give none: a zone holds its lower edge and not its upper one.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from trainlog.trace import FloatArray

SUMMATED_ZONE_EDGES = (50.0, 60.0, 70.0, 80.0, 90.0)
"""Lower edges of Edwards' five zones in percent of maximum heart rate; the zones weigh 1 to 5.

Edwards S (1993), The Heart Rate Monitor Book: from memory, the width of the zones also as secondary
sources repeat it."""

THRESHOLDS_OF_MAXIMUM = (82.0, 88.0)
"""Percent of maximum heart rate that stand for the two thresholds where no test has found them.

Seiler S (2010), Int J Sports Physiol Perform 5(3):276-291, a five-zone table whose zones 1-2, 3 and 4-5
lie below, between and above the thresholds: from memory."""


def summated_zones_per_minute(heart_rate: FloatArray, maximum: FloatArray | float) -> FloatArray:
    """Edwards' summated-zone load that one minute at a heart rate adds.

    A minute counts 1 to 5 by its tenth of maximum heart rate, from 50-60% to 90-100%.

    Parameters
    ----------
    heart_rate : array
        Heart rate in bpm; NaN stays NaN.
    maximum : array or float
        Maximum heart rate in bpm, broadcast against ``heart_rate``: ``RATES`` against draws of shape
        (DRAWS, 1) gives (DRAWS, 256).

    Returns
    -------
    array
        Arbitrary units a minute: 0 below 50% of the maximum, 5 from 90% on, above the maximum too,
        since the entered maximum may be too low. A rate on an edge counts in the upper zone.

    Raises
    ------
    ValueError
        If a maximum is not positive.

    References
    ----------
    Edwards S (1993). The Heart Rate Monitor Book. From memory.

    Examples
    --------
    >>> summated_zones_per_minute(np.array([99.0, 100.0, 139.0, 140.0, 180.0, 205.0]), 200.0)
    array([0., 1., 2., 3., 5., 5.])
    """
    maximum = np.asarray(maximum, dtype=float)
    if not np.all(maximum > 0):
        raise ValueError("maximum heart rate must be positive")
    return _steps(100 * heart_rate / maximum, SUMMATED_ZONE_EDGES)


def three_zones_per_minute(
    heart_rate: FloatArray, first_threshold: FloatArray | float, second_threshold: FloatArray | float
) -> FloatArray:
    """Lucia's load that one minute at a heart rate adds, from the athlete's two thresholds.

    A minute counts 1 below the first (ventilatory) threshold, 2 between the two and 3 above the
    second (the respiratory compensation point).

    Parameters
    ----------
    heart_rate : array
        Heart rate in bpm; NaN stays NaN.
    first_threshold, second_threshold : array or float
        Heart rate at the thresholds in bpm, broadcast against ``heart_rate``.

    Returns
    -------
    array
        Arbitrary units a minute. Every recorded minute counts at least 1, one at rest too. A rate at
        a threshold counts in the zone above it.

    Raises
    ------
    ValueError
        If a first threshold is not positive or not below its second.

    References
    ----------
    Lucia A et al. (2003). Med Sci Sports Exerc 35(5):872-878. The zones as secondary sources repeat
    them; weights and pages from memory.

    Examples
    --------
    >>> three_zones_per_minute(np.array([80.0, 139.0, 140.0, 164.0, 165.0]), 140.0, 165.0)
    array([1., 1., 2., 2., 3.])
    """
    first, second = checked_thresholds(first_threshold, second_threshold)
    return 1.0 + _steps(heart_rate, [first, second])


def thresholds_from_maximum(maximum: FloatArray | float) -> tuple[FloatArray, FloatArray]:
    """Stand-ins for the two thresholds where only the maximum is known.

    Parameters
    ----------
    maximum : array or float
        Maximum heart rate in bpm.

    Returns
    -------
    tuple of array
        First and second threshold in bpm, each with the shape of ``maximum``. Thresholds differ widely
        between people with the same maximum: a test of one's own replaces them.

    Raises
    ------
    ValueError
        If a maximum is not positive.

    References
    ----------
    Seiler S (2010). Int J Sports Physiol Perform 5(3):276-291. From memory.

    Examples
    --------
    >>> [float(threshold) for threshold in thresholds_from_maximum(200.0)]
    [164.0, 176.0]
    """
    maximum = np.asarray(maximum, dtype=float)
    if not np.all(maximum > 0):
        raise ValueError("maximum heart rate must be positive")
    first, second = THRESHOLDS_OF_MAXIMUM
    return np.asarray(first * maximum / 100), np.asarray(second * maximum / 100)


def checked_thresholds(
    first_threshold: FloatArray | float, second_threshold: FloatArray | float
) -> tuple[FloatArray, FloatArray]:
    """Both thresholds as arrays of bpm; ValueError unless 0 < first < second."""
    first, second = np.asarray(first_threshold, dtype=float), np.asarray(second_threshold, dtype=float)
    if not (np.all(first > 0) and np.all(first < second)):
        raise ValueError("the first threshold must be positive and below the second")
    return first, second


def _steps(values: FloatArray, edges: Sequence[FloatArray | float]) -> FloatArray:
    """How many of the edges each value has reached; NaN stays NaN."""
    reached = np.sum([np.greater_equal(values, edge) for edge in edges], axis=0, dtype=float)
    return np.where(np.isnan(values), np.nan, reached)
