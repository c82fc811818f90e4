"""Resting and maximum heart rate with their errors, as draws that turn a histogram into loads."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from trainlog.load.draws import athlete_seed, standard_normals
from trainlog.load.trimp import RATES, Weighting, histogram_load, load_per_minute
from trainlog.trace import FloatArray

LEAST_RESERVE = 30.0
"""bpm; draws of resting and maximum rate are kept at least this far apart."""


@dataclass(frozen=True)
class PhysiologyDraws:
    """One athlete's heart-rate bounds in force on a day.

    Attributes
    ----------
    resting, maximum : float
        Central values in bpm.
    resting_error, maximum_error : float
        Their standard errors in bpm.
    weighting : Weighting
        Of Banister's training impulse.
    seed : int
        The athlete's seed: the same normals move the bounds of every session.
    """

    resting: float
    maximum: float
    resting_error: float
    maximum_error: float
    weighting: Weighting
    seed: int

    @cached_property
    def per_minute(self) -> FloatArray:
        """Load a minute at each whole bpm under each draw, shape (DRAWS, 256)."""
        resting = self.resting + self.resting_error * standard_normals(athlete_seed(self.seed, "resting"))
        maximum = self.maximum + self.maximum_error * standard_normals(athlete_seed(self.seed, "maximum"))
        maximum = np.maximum(maximum, resting + LEAST_RESERVE)
        return load_per_minute(RATES[None, :], resting[:, None], maximum[:, None], self.weighting)

    @cached_property
    def central_per_minute(self) -> FloatArray:
        """Load a minute at each whole bpm with both bounds at their central values, shape (256,)."""
        return load_per_minute(RATES, self.resting, self.maximum, self.weighting)

    def central_load(self, seconds_at_rate: FloatArray) -> float:
        """Load of a histogram with both bounds at their central values."""
        return float(histogram_load(seconds_at_rate, self.central_per_minute))

    def load_draws(self, seconds_at_rate: FloatArray) -> FloatArray:
        """Load of a histogram under each draw of the bounds, shape (DRAWS,)."""
        return histogram_load(seconds_at_rate, self.per_minute)
