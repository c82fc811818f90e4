"""Resting and maximum heart rate with their errors, as draws that turn a histogram into loads."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from trainlog.load.draws import athlete_seed, standard_normals
from trainlog.load.trimp import RATES, Weighting, histogram_load, load_per_minute
from trainlog.load.zones import checked_thresholds, thresholds_from_maximum
from trainlog.trace import FloatArray

LEAST_RESERVE = 30.0
"""bpm; draws of resting and maximum rate are kept at least this far apart."""

THRESHOLD_ERROR = 4.0
"""bpm; standard error of a threshold that a test has found (common practice, no source)."""

STAND_IN_ERROR = 8.0
"""bpm; standard error of one that a percentage of the maximum stands for: people differ widely (common
practice, no source)."""


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
    first_threshold, second_threshold : float or None
        Heart rate at the thresholds in bpm, where both are known; else percentages of the maximum stand in.
    """

    resting: float
    maximum: float
    resting_error: float
    maximum_error: float
    weighting: Weighting
    seed: int
    first_threshold: float | None = None
    second_threshold: float | None = None

    @cached_property
    def resting_draws(self) -> FloatArray:
        """Resting rate in bpm, shape (DRAWS,)."""
        return self.resting + self.resting_error * standard_normals(athlete_seed(self.seed, "resting"))

    @cached_property
    def maximum_draws(self) -> FloatArray:
        """Maximum rate in bpm, shape (DRAWS,)."""
        drawn = self.maximum + self.maximum_error * standard_normals(athlete_seed(self.seed, "maximum"))
        return np.maximum(drawn, self.resting_draws + LEAST_RESERVE)

    @property
    def thresholds_known(self) -> bool:
        """Whether both thresholds come from a test."""
        return self.first_threshold is not None and self.second_threshold is not None

    @cached_property
    def thresholds(self) -> FloatArray:
        """First and second threshold at their central values in bpm, shape (2,)."""
        if self.first_threshold is not None and self.second_threshold is not None:
            return np.array(checked_thresholds(self.first_threshold, self.second_threshold))
        return np.array(thresholds_from_maximum(self.maximum))

    @cached_property
    def threshold_draws(self) -> FloatArray:
        """First and second threshold in bpm, shape (DRAWS, 2); both move together, so their order stays."""
        chance = standard_normals(athlete_seed(self.seed, "thresholds"))[:, None]
        if self.thresholds_known:
            return self.thresholds + THRESHOLD_ERROR * chance
        return np.column_stack(thresholds_from_maximum(self.maximum_draws)) + STAND_IN_ERROR * chance

    @cached_property
    def per_minute(self) -> FloatArray:
        """Training impulse a minute at each whole bpm under each draw, shape (DRAWS, 256)."""
        return load_per_minute(
            RATES[None, :], self.resting_draws[:, None], self.maximum_draws[:, None], self.weighting
        )

    @cached_property
    def central_per_minute(self) -> FloatArray:
        """Training impulse a minute at each whole bpm, both bounds at their central values, shape (256,)."""
        return load_per_minute(RATES, self.resting, self.maximum, self.weighting)

    def central_load(self, seconds_at_rate: FloatArray) -> float:
        """Training impulse of a histogram with both bounds at their central values."""
        return float(histogram_load(seconds_at_rate, self.central_per_minute))

    def load_draws(self, seconds_at_rate: FloatArray) -> FloatArray:
        """Training impulse of a histogram under each draw of the bounds, shape (DRAWS,)."""
        return histogram_load(seconds_at_rate, self.per_minute)
