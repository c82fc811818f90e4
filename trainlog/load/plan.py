"""A load that was meant against the load that likely came about: counts over draws, and no advice."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from trainlog.load.draws import interval, rounded_probability
from trainlog.trace import FloatArray


@dataclass(frozen=True)
class AgainstRange:
    """Where a load likely lies against a planned range.

    Attributes
    ----------
    below, within, above : int or None
        Probabilities in per cent, each to the nearest 5 by itself, so that they need not add up to 100;
        None for a side on which the range has no end.
    """

    below: int | None
    within: int
    above: int | None


@dataclass(frozen=True)
class Open:
    """Load that is missing up to a bound.

    Attributes
    ----------
    low, median, high : float
        80% interval, in the unit of the load; 0 where the bound is passed already.
    """

    low: float
    median: float
    high: float


def against_range(load: FloatArray, low: float | None, high: float | None) -> AgainstRange:
    """Probability that a load lies below, within and above a planned range, bounds included.

    Parameters
    ----------
    load : array, shape (DRAWS,)
        Draws of the load so far, or of the whole week.
    low, high : float or None
        Ends of the range, in the same unit; None where it has no such end.

    Raises
    ------
    ValueError
        If the range has no end at all, or its ends are in the wrong order.

    Examples
    --------
    >>> against_range(np.array([80.0, 100.0, 110.0, 130.0]), 100.0, 120.0)
    AgainstRange(below=25, within=50, above=25)
    """
    if low is None and high is None:
        raise ValueError("a planned range needs an end")
    if low is not None and high is not None and low > high:
        raise ValueError("the least load planned must not exceed the most")
    below = np.zeros(load.shape, bool) if low is None else load < low
    above = np.zeros(load.shape, bool) if high is None else load > high
    return AgainstRange(
        below=None if low is None else rounded_probability(float(below.mean())),
        within=rounded_probability(float((~below & ~above).mean())),
        above=None if high is None else rounded_probability(float(above.mean())),
    )


def still_open(load: FloatArray, bound: float) -> Open:
    """Load that is missing from the load so far up to a bound.

    Parameters
    ----------
    load : array, shape (DRAWS,)
        Draws of the load so far.
    bound : float
        An end of the planned range, in the same unit.

    Examples
    --------
    >>> still_open(np.full(4, 70.0), 100.0)
    Open(low=30.0, median=30.0, high=30.0)
    """
    return Open(*interval(np.maximum(bound - load, 0)))
