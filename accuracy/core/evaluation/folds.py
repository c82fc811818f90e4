"""Every pair predicted by a fit that never saw its workout, without a fit for each workout.

Up to ``MOST_FITS`` workouts each is left out by itself; more are dealt into as many groups, and a group is
left out at a time. The closed form that a fit judges itself by keeps what all pairs say of its scales,
weights and widths, and so flatters it a little; a report to others must not.

References
----------
Stone M (1974). Cross-validatory choice and assessment of statistical predictions. J R Stat Soc B 36:111-147.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from accuracy.core.learning.leave_out import COVERAGES
from accuracy.core.learning.wrist_fit import WristPair, learn_wrist
from trainlog.load.draws import interval

MOST_FITS = 10
"""Fits made at most (usual number of groups in cross-validation)."""


@dataclass(frozen=True, eq=False)
class HeldOut:
    """A pair as predicted by a fit without its workout.

    Attributes
    ----------
    pair : WristPair
    as_it_stands, corrected : float
        Load of the tested sensor, and the median corrected load, over the reference's.
    intervals : mapping of float to (float, float)
        Central interval of the corrected load, over the reference's, for each of ``COVERAGES``: it holds 1 if
        it kept its promise.
    probability : float
        Of the prediction lying below what came (probability integral transform).
    """

    pair: WristPair
    as_it_stands: float
    corrected: float
    intervals: Mapping[float, tuple[float, float]]
    probability: float

    def held(self, coverage: float = 0.8) -> bool:
        """Whether the interval of a coverage holds the reference's load."""
        low, high = self.intervals[coverage]
        return low <= 1.0 <= high


def predict_held_out(pairs: Sequence[WristPair], *, seed: int, most_fits: int = MOST_FITS) -> list[HeldOut]:
    """Predict every pair from other workouts, everything learned anew for each group.

    Parameters
    ----------
    pairs : sequence of WristPair
        In any order; the result, but for its order, does not depend on it.
    seed : int
        The athlete's seed.
    most_fits : int
        Groups at most.

    Returns
    -------
    list of HeldOut
        In the order given; empty where all pairs are of one workout, since nothing else teaches.
    """
    groups = _groups(pairs, most_fits)
    found: dict[int, HeldOut] = {}
    for group in groups if len(groups) > 1 else []:
        fit, _ = learn_wrist([pair for pair in pairs if pair.workout not in group], seed=seed)
        for place, pair in enumerate(pairs):
            if pair.workout in group:
                draws = fit.further_session(pair.session)
                ratios = np.exp(draws - pair.log_ratio)
                ends = {coverage: interval(ratios, coverage) for coverage in COVERAGES}
                found[place] = HeldOut(
                    pair=pair,
                    as_it_stands=math.exp(-pair.log_ratio),
                    corrected=float(np.median(ratios)),
                    intervals={coverage: (low, high) for coverage, (low, _, high) in ends.items()},
                    probability=float(np.mean(ratios < 1)),
                )
    return [found[place] for place in sorted(found)]


def _groups(pairs: Sequence[WristPair], most: int) -> list[set[str]]:
    """Workouts dealt like cards in order of sensor, activity and time: each group has some of every kind."""
    first: dict[str, tuple[str, str, int, str]] = {}
    for pair in pairs:
        cell = pair.session.cell
        key = (cell.instrument, cell.activity, pair.session.day, pair.workout)
        first[pair.workout] = min(first.get(pair.workout, key), key)
    order = sorted(first, key=lambda workout: first[workout])
    return [set(order[start::most]) for start in range(min(most, len(order)))]
