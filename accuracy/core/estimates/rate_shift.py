"""Rates of a session, stretched about their mean and shifted as a whole to have a given load."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from accuracy.core.traces.detectors import HIGHEST_RATE, LOWEST_RATE
from trainlog.load.physiology import PhysiologyDraws
from trainlog.load.trimp import load_per_minute
from trainlog.trace import FloatArray

PEAK_SECONDS = 5.0
"""The peak is the rate that so many seconds of a session reach; it needs no order of the seconds (common
practice, no source)."""

LARGEST_STRETCH = 2.0
"""Factor on the spread, and its inverse, beyond which no stretch goes (common practice, no source)."""

SHIFTS = np.linspace(-90.0, 90.0, 73)
"""bpm at which loads are tabulated; no shift goes further. Between two of them 2.5 bpm apart the log of the
load is straight to about one part in five thousand."""

STRETCHES = np.geomspace(1 / LARGEST_STRETCH, LARGEST_STRETCH, 9)
"""Stretches at which loads are tabulated; between two the shift is taken as straight in the stretch."""

LEAST_LOAD = 1e-9
"""Floor under a load before its log is taken."""


@dataclass(frozen=True, eq=False)
class RateCounts:
    """How long a session spent at which rates, in any order.

    Attributes
    ----------
    rate : array, shape (rates,)
        bpm.
    seconds : array, shape (rates,)
        More than none in all.
    """

    rate: FloatArray
    seconds: FloatArray

    @cached_property
    def mean(self) -> float:
        """Mean rate, bpm."""
        return float(self.rate @ self.seconds / self.seconds.sum())

    @cached_property
    def spread(self) -> float:
        """Standard deviation of the rate over the session, bpm."""
        return float(np.sqrt((self.rate - self.mean) ** 2 @ self.seconds / self.seconds.sum()))

    @cached_property
    def peak(self) -> float:
        """Rate that ``PEAK_SECONDS`` reach, bpm; the lowest of a session shorter than that."""
        falling = np.argsort(-self.rate, kind="stable")
        reached = np.searchsorted(np.cumsum(self.seconds[falling]), PEAK_SECONDS)
        return float(self.rate[falling][min(reached, np.count_nonzero(self.seconds) - 1)])

    def quantiles(self, at: FloatArray) -> FloatArray:
        """Rates that so great shares of the seconds stay below, bpm."""
        rising = np.argsort(self.rate, kind="stable")
        seconds = self.seconds[rising]
        return np.interp(at, (np.cumsum(seconds) - seconds / 2) / seconds.sum(), self.rate[rising])

    def moved(self, stretch: FloatArray, shift: FloatArray) -> FloatArray:
        """Rates under each stretch and shift, bpm, shape (draws, rates)."""
        return moved(self.rate[None, :], self.mean, stretch[:, None], shift[:, None])


def moved(rate: FloatArray | float, centre: float, stretch: FloatArray, shift: FloatArray) -> FloatArray:
    """Rates stretched about a centre and shifted, kept where a heart can be at work, bpm."""
    return np.clip(centre + stretch * (rate - centre) + shift, LOWEST_RATE, HIGHEST_RATE)


def load_of(rate: FloatArray, seconds: FloatArray, physiology: PhysiologyDraws) -> FloatArray:
    """Load of rates held for so many seconds each, at the central physiology, shape (...,).

    Parameters
    ----------
    rate : array, shape (..., rates)
        bpm.
    seconds : array, shape (rates,)
    physiology : PhysiologyDraws
    """
    per_minute = load_per_minute(rate, physiology.resting, physiology.maximum, physiology.weighting)
    return per_minute @ seconds / 60


def shift_to_load(
    base: RateCounts, stretch: FloatArray, load: FloatArray, physiology: PhysiologyDraws
) -> FloatArray:
    """Shift at which stretched rates have a given load, the same for every second.

    Parameters
    ----------
    base : RateCounts
    stretch : array, shape (draws,)
        Factor on the distance of every rate from the mean, within ``LARGEST_STRETCH``.
    load : array, shape (draws,)
        Arbitrary units, over the seconds of ``base``.
    physiology : PhysiologyDraws
        Its central values count.

    Returns
    -------
    array, shape (draws,)
        bpm, within ``SHIFTS``: a load out of their reach gets the last of them.
    """
    place = np.interp(stretch, STRETCHES, np.arange(len(STRETCHES)))
    below = np.minimum(place.astype(int), len(STRETCHES) - 2)
    # Stretches that no draw comes near are left out of the table.
    first, last = below.min(), below.max() + 1
    grid = moved(base.rate, base.mean, STRETCHES[first : last + 1, None, None], SHIFTS[None, :, None])
    tabulated = np.log(np.maximum(load_of(grid, base.seconds, physiology), LEAST_LOAD))
    wanted = np.log(np.maximum(load, LEAST_LOAD))
    at_stretch = np.array([np.interp(wanted, logs, SHIFTS) for logs in tabulated])
    share, draw = place - below, np.arange(len(stretch))
    return (1 - share) * at_stretch[below - first, draw] + share * at_stretch[below + 1 - first, draw]
