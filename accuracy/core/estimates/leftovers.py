"""What a session's load does not say of its rates, learned from pairs.

How much wider the true rates are spread than the wrist's, how far the peak lies beyond them, how far their
distribution has another shape, and how far single seconds stray.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np
from scipy import special

from accuracy.core.estimates.rate_shift import LARGEST_STRETCH, RateCounts, shift_to_load
from accuracy.core.learning.priors import FAMILIES
from accuracy.core.learning.trace_model import corrected_rates
from accuracy.core.learning.wrist_fit import WristFit, WristPair
from accuracy.core.traces.states import States
from trainlog.load.draws import session_seed, stratified_uniforms
from trainlog.load.physiology import PhysiologyDraws
from trainlog.load.trimp import RATES
from trainlog.trace import FloatArray


@dataclass(frozen=True)
class Expected:
    """What is expected of a further session: a Student-t distribution.

    Attributes
    ----------
    centre, scale : float
        In the unit of what is expected.
    degrees : float
        Degrees of freedom.
    """

    centre: float
    scale: float
    degrees: float

    def draws(self, content: str, purpose: str) -> FloatArray:
        """Draws for the session of this content, shape (DRAWS,)."""
        chance = special.stdtrit(self.degrees, stratified_uniforms(session_seed(content, purpose)))
        return self.centre + self.scale * chance


@dataclass(frozen=True)
class Prior:
    """What is expected before any pair, and how many pairs that is worth.

    Attributes
    ----------
    centre, spread : float
        Mean, and standard deviation between sessions.
    centre_pairs, spread_pairs : float
        Pairs that know as much of the one, and of the other.
    """

    centre: float
    spread: float
    centre_pairs: float
    spread_pairs: float

    def after(self, seen: FloatArray) -> Expected:
        """Expectation of a further session after some, by the conjugate normal model.

        Parameters
        ----------
        seen : array, shape (pairs,)

        References
        ----------
        Gelman A et al. (2013). Bayesian Data Analysis, 3rd ed., section 3.3.
        """
        count = len(seen)
        mean = float(seen.mean()) if count else self.centre
        known = self.centre_pairs + count
        squares = self.spread_pairs * self.spread**2 + float(((seen - mean) ** 2).sum())
        squares += self.centre_pairs * count / known * (mean - self.centre) ** 2
        centre = (self.centre_pairs * self.centre + count * mean) / known
        degrees = self.spread_pairs + count
        return Expected(centre, float(np.sqrt(squares / degrees * (1 + 1 / known))), degrees)


LOG_STRETCH = Prior(centre=0.1, spread=0.2, centre_pairs=1, spread_pairs=2)
"""Log of the spread of the true rates over that of the wrist's with their expected error made good, which
flattens them (common practice, no source)."""

PEAK = Prior(centre=2.0, spread=5.0, centre_pairs=1, spread_pairs=2)
"""bpm by which the true peak lies beyond that of the rates stretched and shifted (common practice, no
source)."""

SHAPE = 3.0
"""bpm before any pair: root mean square distance between equal quantiles of the true rates and the wrist's,
stretched and shifted (common practice, no source)."""

STRAY = {"steady": 5.0, "intervals": 7.0, "resistance": 10.0, "mixed": 10.0, "other": 8.0}
"""bpm before any pair, by family: root mean square distance between them second by second, on one clock
(common practice, no source)."""

SQUARES_PAIRS = 2.0
"""Pairs that know as much of these as is known before any (common practice, no source)."""

QUANTILES = (np.arange(100) + 0.5) / 100
"""At which two distributions are compared."""


@dataclass(frozen=True)
class Leftover:
    """What is expected of a further session of one family.

    Attributes
    ----------
    log_stretch, peak : Expected
        As ``LOG_STRETCH`` and ``PEAK``.
    shape, stray : float
        As ``SHAPE`` and ``STRAY``, bpm.
    """

    log_stretch: Expected
    peak: Expected
    shape: float
    stray: float

    def stretch_draws(self, content: str) -> FloatArray:
        """Draws of the stretch of a session, shape (DRAWS,)."""
        drawn = self.log_stretch.draws(content, "stretch")
        return np.exp(drawn).clip(1 / LARGEST_STRETCH, LARGEST_STRETCH)

    def peak_draws(self, content: str) -> FloatArray:
        """Draws of what the peak lies beyond the stretched and shifted rates, bpm, shape (DRAWS,)."""
        return self.peak.draws(content, "peak")


Leftovers = Mapping[str, Leftover]
"""By family."""


def learn_leftovers(pairs: Sequence[WristPair], fit: WristFit) -> Leftovers:
    """Learn from pairs what their loads did not say of their rates.

    Parameters
    ----------
    pairs : sequence of WristPair
        Those that the fit was learned from, in any order; none gives what is expected before any pair.
    fit : WristFit

    Returns
    -------
    Leftovers
        All sensors of the athlete together; each family by itself.
    """
    seen: dict[str, list[_Left]] = {family: [] for family in FAMILIES}
    for one in sorted(pairs, key=lambda one: one.session.content):
        if len(one.common_states) and one.reference_seconds_at_rate.any():
            seen[one.session.cell.family].append(_left_of(one, fit))
    return {family: _learned(family, left) for family, left in seen.items()}


def _learned(family: str, left: Sequence[_Left]) -> Leftover:
    def root_mean_square(expected: float, squares: Sequence[float]) -> float:
        known = SQUARES_PAIRS * expected**2 + sum(squares)
        return float(np.sqrt(known / (SQUARES_PAIRS + len(squares))))

    return Leftover(
        LOG_STRETCH.after(np.array([one.log_stretch for one in left])),
        PEAK.after(np.array([one.peak for one in left])),
        root_mean_square(SHAPE, [one.shape_square for one in left]),
        root_mean_square(STRAY[family], [one.stray_square for one in left]),
    )


def as_json(leftovers: Leftovers) -> dict[str, Any]:
    """Leftovers for a database column; ``from_json`` reads them."""
    return {family: asdict(left) for family, left in leftovers.items()}


def from_json(stored: Mapping[str, Any]) -> Leftovers:
    """Leftovers from their stored figures; what is expected before any pair where nothing is stored."""
    return {
        family: Leftover(
            Expected(**stored[family]["log_stretch"]),
            Expected(**stored[family]["peak"]),
            stored[family]["shape"],
            stored[family]["stray"],
        )
        if family in stored
        else _learned(family, [])
        for family in FAMILIES
    }


def expected_rates(states: States, group: str, fit: WristFit, physiology: PhysiologyDraws) -> RateCounts:
    """Rates of a wrist's states with the expected error of the instrument in the family made good."""
    coefficients = coefficients_of(group, fit)
    return RateCounts(corrected_rates(states, coefficients, physiology), states.seconds)


def coefficients_of(group: str, fit: WristFit) -> FloatArray:
    """Coefficients of the trace model for an instrument in a family, seen or not."""
    return fit.trace_coefficients.get(group, fit.trace_coefficients[""])


@dataclass(frozen=True)
class _Left:
    """What the load of one pair leaves open; squares in bpm²."""

    log_stretch: float
    peak: float
    shape_square: float
    stray_square: float


def _left_of(one: WristPair, fit: WristFit) -> _Left:
    states, physiology = one.common_states, one.session.physiology
    base = expected_rates(states, one.session.cell.group, fit, physiology)
    occupied = one.reference_seconds_at_rate > 0
    reference = RateCounts(RATES[occupied], one.reference_seconds_at_rate[occupied])
    # A wrist that wrote one rate throughout has no spread to stretch.
    ratio = reference.spread / base.spread if base.spread > 0 else 1.0
    stretch = np.array([ratio]).clip(1 / LARGEST_STRETCH, LARGEST_STRETCH)
    load = one.reference_load * base.seconds.sum() / reference.seconds.sum()
    shift = shift_to_load(base, stretch, np.array([load]), physiology)
    likely = RateCounts(base.moved(stretch, shift)[0], base.seconds)
    truth = RateCounts(states.rate + states.difference, states.seconds)
    # What the reference's rates vary more than their means by state do, they vary within states.
    within = max(reference.spread**2 - truth.spread**2, 0.0)
    between = float((truth.rate - likely.rate) ** 2 @ states.seconds / states.seconds.sum())
    apart = reference.quantiles(QUANTILES) - likely.quantiles(QUANTILES)
    return _Left(
        float(np.log(stretch[0])), reference.peak - likely.peak, float(np.mean(apart**2)), between + within
    )
