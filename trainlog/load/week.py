"""Sums of loads and their comparison: arithmetic on draws, whatever they came from."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from trainlog.load.draws import (
    DRAWS,
    interval,
    probability_greater,
    relative_half_width,
    rounded_probability,
)
from trainlog.trace import FloatArray


@dataclass(frozen=True)
class PartLoad:
    """One part's load in the three vectors of an estimate, each of shape (DRAWS,)."""

    all_doubt: FloatArray
    sensor_doubt: FloatArray
    physiology_doubt: FloatArray


@dataclass(frozen=True)
class Total:
    """Sum of loads.

    Attributes
    ----------
    low, median, high : float
        80% interval with all doubt.
    sensor_half_width, physiology_half_width : float
        Half-width of the 80% interval over the median, from each source of doubt alone.
    draws : array, shape (DRAWS,)
        The sum with all doubt, for comparisons.
    """

    low: float
    median: float
    high: float
    sensor_half_width: float
    physiology_half_width: float
    draws: FloatArray


@dataclass(frozen=True)
class Comparison:
    """This week against another.

    Attributes
    ----------
    per_cent_likely : int
        Probability that this one is higher, in per cent to the nearest 5.
    low, high : float
        80% interval of the change, in per cent of the other.
    """

    per_cent_likely: int
    low: float
    high: float


def total(loads: Sequence[PartLoad]) -> Total | None:
    """Sum parts draw by draw, so that what sessions share stays shared.

    Parameters
    ----------
    loads : sequence of PartLoad
        In any order.

    Returns
    -------
    Total or None
        None for no parts: there is no interval around nothing.
    """
    if not loads:
        return None
    everything = np.sum([load.all_doubt for load in loads], axis=0)
    sensor = np.sum([load.sensor_doubt for load in loads], axis=0)
    physiology = np.sum([load.physiology_doubt for load in loads], axis=0)
    low, median, high = interval(everything)
    return Total(low, median, high, relative_half_width(sensor), relative_half_width(physiology), everything)


def compare(this: Total | None, other: Total | None) -> Comparison | None:
    """Probability that this sum exceeds the other, and the likely range of the change.

    Returns
    -------
    Comparison or None
        None where the other is nothing: a change in per cent of nothing has no meaning.
    """
    if other is None or np.any(other.draws <= 0):
        return None
    mine = this.draws if this else np.zeros(DRAWS)
    low, _, high = interval(100 * (mine / other.draws - 1))
    return Comparison(rounded_probability(probability_greater(mine, other.draws)), low, high)
