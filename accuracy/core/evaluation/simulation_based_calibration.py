"""Whether the fit says what its own model implies: truths drawn from the prior, ranked among posterior draws.

Where scales and effects are drawn from the prior and sessions from them, the rank of a true value among the
draws of an exact posterior is uniform. Too many ranks at both ends tell of draws too narrow, too many in the
middle of draws too wide, a slope of draws that lean to one side.

References
----------
Talts S, Betancourt M, Simpson D, Vehtari A, Gelman A (2018). Validating Bayesian inference algorithms with
simulation-based calibration. arXiv:1804.06788.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
import scipy
from numpy.typing import NDArray

from accuracy.core.learning.feature_range import range_along
from accuracy.core.learning.features import FEATURES, OF_TRACE
from accuracy.core.learning.pooled_regression import DEGREES_OF_FREEDOM, fit
from accuracy.core.learning.priors import FAMILIES, Prior
from accuracy.core.learning.profile import Cell, Designed, Form, PairedLoads, design, draws_of
from trainlog.load.draws import DRAWS
from trainlog.trace import FloatArray

CELLS = (
    Cell("a", "", "steady", "run"),
    Cell("a", "", "steady", "ride"),
    Cell("a", "", "resistance", "lifting"),
    Cell("a", "", "mixed", "circuit"),
    Cell("b", "", "steady", "run"),
)
"""Two instruments, three families; the ranked cell is the first and the ranked family its own."""

FEWEST, MOST = 2, 12
"""Pairs of a cell, any number between being as likely."""

UNKNOWN = 0.3
"""Share of sessions whose rating is unknown."""

RANKED_DRAWS = 127
"""Draws that a true value is ranked among, every fourth of ``DRAWS``: ranks fall evenly into 8 or 16 bins."""

CELL, SLOPE, RESIDUAL, FURTHER = "cell", "slope", "log residual scale", "further session"
"""What is ranked: the expected log ratio of a cell, the slope of the first feature for all together, the log
of a family's residual scale, and the log ratio of one further session of the cell."""


@dataclass(frozen=True, eq=False)
class Calibration:
    """Ranks of one quantity's true values.

    Attributes
    ----------
    ranks : array of int, shape (simulations,)
        From 0 to ``RANKED_DRAWS``.
    """

    ranks: NDArray[np.int64]

    def histogram(self, bins: int) -> NDArray[np.int64]:
        """Number of ranks in each of equal bins, shape (bins,)."""
        return np.bincount(self.ranks * bins // (RANKED_DRAWS + 1), minlength=bins)

    def p_value(self, bins: int) -> float:
        """P value of a chi-square test that the ranks are uniform over equal bins."""
        return float(scipy.stats.chisquare(self.histogram(bins)).pvalue)

    def coverage(self, probability: float = 0.8) -> float:
        """Share of the true values in the central interval of that probability."""
        tail = (1 - probability) / 2
        place = (self.ranks + 0.5) / (RANKED_DRAWS + 1)
        return float(np.mean((place > tail) & (place < 1 - tail)))


def calibrate(form: Form, prior: Prior, *, simulations: int, seed: int) -> dict[str, Calibration]:
    """Rank true values over simulated athletes.

    Parameters
    ----------
    form : Form
    prior : Prior
        From which both the truth and the fit start.
    simulations : int
    seed : int
        Simulation k is the same however many there are.

    Returns
    -------
    dict of quantity to Calibration
        Of the quantities that the form has.
    """
    found = [_ranks(form, prior, seed, number) for number in range(simulations)]
    return {name: Calibration(np.array([one[name] for one in found])) for name in found[0]}


def worst(calibrations: Mapping[str, Calibration], bins: int) -> float:
    """Smallest p value over some quantities, after Bonferroni's correction for their number."""
    return min(1.0, len(calibrations) * min(one.p_value(bins) for one in calibrations.values()))


def _ranks(form: Form, prior: Prior, seed: int, number: int) -> dict[str, int]:
    """Rank the true values of one simulated athlete."""
    rng = np.random.default_rng((seed, number))
    cells = [cell for cell in CELLS for _ in range(rng.integers(FEWEST, MOST + 1))]
    silent = [
        PairedLoads(cell, 0.0, f"{seed}/{number}/{place}", _features(rng)) for place, cell in enumerate(cells)
    ]
    laid_out = design(silent, prior, form)
    problem = laid_out.problem
    hyper = rng.standard_normal(len(problem.doubt))
    effects = rng.standard_normal(len(laid_out.names)) * problem.effect_scales(hyper)
    noise = problem.noise(hyper)
    chance = noise[problem.family_of_observation] * rng.standard_t(DEGREES_OF_FREEDOM, len(silent))
    observed = problem.design @ effects + chance
    designed = replace(laid_out, problem=replace(problem, observed=observed))
    posterior = draws_of(designed, fit(designed.problem), seed=seed * 10**6 + number, kind="simulated")
    ranked, features = CELLS[0], _features(rng)
    residual = float(noise[FAMILIES.index(ranked.family)])
    further = _expected(designed, effects, ranked, features) + residual * rng.standard_t(DEGREES_OF_FREEDOM)
    truth = {
        RESIDUAL: (np.log(residual), np.log(posterior.residual[ranked.family])),
        FURTHER: (further, posterior.further_session(ranked, f"{seed}/{number}/further", features)),
    }
    if form.cells:
        truth[CELL] = (_expected(designed, effects, ranked, None), posterior.expected(ranked))
    if form.features:
        name = f"slope/{form.features[0]}"
        truth[SLOPE] = (effects[laid_out.names.index(name)], posterior.effects[name])
    return {name: _rank(value, draws) for name, (value, draws) in truth.items()}


def _features(rng: np.random.Generator) -> FloatArray:
    """Features of a session, a usual departure apart."""
    features = rng.standard_normal(len(FEATURES))
    if rng.random() < UNKNOWN:
        features[len(OF_TRACE) :] = np.nan
    return features


def _expected(designed: Designed, effects: FloatArray, cell: Cell, features: FloatArray | None) -> float:
    """True expected log ratio of a session of a cell that has pairs."""
    known = dict(zip(designed.names, effects, strict=True))
    form = designed.form
    total = 0.0
    if form.cells:
        total += designed.prior.centre[cell.family] + sum(known[name] for name in cell.effects)
    within = range_along(cell.path, designed.ranges)
    if features is not None and within is not None:
        apart = within.departures(features)
        total += sum(
            apart[place] * known[f"{group}/{place}"] for group in cell.slopes for place in form.features
        )
    return float(total)


def _rank(value: float, draws: FloatArray) -> int:
    """Number of the thinned draws below a value."""
    thinned = draws[:: DRAWS // (RANKED_DRAWS + 1)][:RANKED_DRAWS]
    return int(np.sum(thinned < value))
