"""Error profiles: the log ratio of reference to instrument load, learned by partial pooling.

The expected log ratio of a cell (instrument, firmware, family, activity) is the prior's centre for the
family plus five effects, each drawn toward zero: of the family, the instrument, the instrument in the
family, the instrument in the activity, and the firmware in the family. Sessions scatter about it with a
Student-t spread whose scale is the family's. All scales are learned too: their posterior is taken as
normal about its mode (Laplace), the effects are exact given the scales.

References
----------
Gelman A et al. (2013). Bayesian Data Analysis, 3rd edition, chapters 5, 13.3 and 17.
Lange KL, Little RJA, Taylor JMG (1989). Robust statistical modeling using the t distribution.
J Am Stat Assoc 84:881-896 (weights of the Student-t noise).
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import linalg, optimize, special

from accuracy.core.partial_pooling import log_marginal_likelihood, posterior, posterior_draws
from accuracy.core.priors import FAMILIES, Prior
from trainlog.load.draws import DRAWS, athlete_seed, session_seed, standard_normals, stratified_uniforms
from trainlog.trace import FloatArray

DEGREES_OF_FREEDOM = 4.0
"""Of the Student-t spread between sessions (Gelman et al. 2013, section 17.2, use 4 as a robust choice)."""

SHARED_RESIDUAL_DOUBT = 0.4
"""Standard deviation of the log scale that all families' spreads share (common practice, no source)."""

RESIDUAL_DOUBT = 0.4
"""Standard deviation of the log scale of one family's own spread (common practice, no source)."""

REWEIGHTINGS = 4
"""Rounds of Student-t weights; they settle to three digits by then on the demo's pairs."""


@dataclass(frozen=True)
class Cell:
    """Where an error is the same but for chance: one instrument, firmware and activity."""

    instrument: str
    firmware: str
    family: str
    activity: str

    @property
    def effects(self) -> tuple[str, ...]:
        """Names of the effects that add up to the cell's log ratio, in the order of ``effect_scales``."""
        return (
            f"family/{self.family}",
            f"instrument/{self.instrument}",
            f"instrument/{self.instrument}/family/{self.family}",
            f"instrument/{self.instrument}/activity/{self.activity}",
            f"instrument/{self.instrument}/firmware/{self.firmware}/family/{self.family}",
        )


def effect_scales(prior: Prior) -> FloatArray:
    """Prior standard deviations of a cell's effects, shape (5,)."""
    return np.array(
        [prior.family, prior.instrument, prior.instrument_family, prior.instrument_activity, prior.firmware]
    )


@dataclass(frozen=True)
class PairedLoads:
    """One pair's evidence.

    Attributes
    ----------
    cell : Cell
    log_ratio : float
        Log of the reference's load over the instrument's, over the same seconds.
    content : str
        Content hash of the session; seeds what is peculiar to it.
    """

    cell: Cell
    log_ratio: float
    content: str


@dataclass(frozen=True, eq=False)
class Posterior:
    """What was learned about all instruments of one kind.

    Attributes
    ----------
    prior : Prior
    seed : int
        The athlete's seed.
    kind : str
        Kind of instrument; keeps the draws of kinds apart.
    effect_factors : array, shape (DRAWS, 5)
        Draws of the factors on the effect scales, in the order of ``effect_scales``.
    residual : mapping of family to array, shape (DRAWS,)
        Draws of the Student-t scale between sessions.
    effects : mapping of name to array, shape (DRAWS,)
        Draws of the effects that some pair tells about.
    counts : mapping of cell to int
        Number of pairs.
    """

    prior: Prior
    seed: int
    kind: str
    effect_factors: FloatArray
    residual: dict[str, FloatArray]
    effects: dict[str, FloatArray]
    counts: dict[Cell, int]

    def expected(self, cell: Cell) -> FloatArray:
        """Draws of the expected log ratio of a cell, seen or not, shape (DRAWS,)."""
        result = np.full(DRAWS, self.prior.centre[cell.family])
        scales = effect_scales(self.prior) * self.effect_factors
        for level, name in enumerate(cell.effects):
            known = self.effects.get(name)
            result = result + (known if known is not None else self._unseen(name) * scales[:, level])
        return result

    def further_session(self, cell: Cell, content: str) -> FloatArray:
        """Draws of the log ratio of one further session of a cell, shape (DRAWS,).

        Parameters
        ----------
        cell : Cell
        content : str
            Content hash of the session: its own chance is the same in every fit.
        """
        uniforms = stratified_uniforms(session_seed(content, self.kind))
        chance = special.stdtrit(DEGREES_OF_FREEDOM, uniforms)
        return self.expected(cell) + self.residual[cell.family] * chance

    def pairs_of(self, cell: Cell, *, level: str = "activity") -> int:
        """Pairs of a cell's instrument in its ``"activity"`` or ``"family"``, whatever the firmware."""
        return sum(
            count
            for other, count in self.counts.items()
            if other.instrument == cell.instrument and getattr(other, level) == getattr(cell, level)
        )

    def _unseen(self, name: str) -> FloatArray:
        return standard_normals(athlete_seed(self.seed, f"{self.kind}/{name}"))


def learn(pairs: Sequence[PairedLoads], prior: Prior, *, seed: int, kind: str) -> Posterior:
    """Learn the log ratios of all cells together.

    Parameters
    ----------
    pairs : sequence of PairedLoads
        In any order; the result does not depend on it.
    prior : Prior
        Of the kind of instrument.
    seed : int
        The athlete's seed, which fixes the normals behind all shared draws.
    kind : str
        Name of the kind of instrument.

    Returns
    -------
    Posterior
        With the prior alone where there are no pairs.
    """
    pairs = sorted(pairs, key=lambda pair: (pair.content, pair.cell.instrument, pair.cell.activity))
    model = _Model(pairs, prior)
    mode, weights = _mode_and_weights(model)
    hyper = _hyper_draws(model, mode, weights, seed, kind)
    effect_factors, residual = model.scales(hyper)
    effects: dict[str, FloatArray] = {}
    if pairs:
        noise_variance = residual[:, model.family_of_pair] ** 2 / weights
        normals = [
            standard_normals(session_seed(pair.content, f"{kind}/learned/{pair.cell.activity}"))
            for pair in pairs
        ]
        draws = posterior_draws(
            model.design,
            model.centred,
            noise_variance,
            model.effect_sizes(effect_factors) ** 2,
            np.column_stack(normals),
            np.column_stack([standard_normals(athlete_seed(seed, f"{kind}/{name}")) for name in model.names]),
        )
        effects = {name: draws[:, column] for column, name in enumerate(model.names)}
    counts: dict[Cell, int] = {}
    for pair in pairs:
        counts[pair.cell] = counts.get(pair.cell, 0) + 1
    return Posterior(
        prior=prior,
        seed=seed,
        kind=kind,
        effect_factors=effect_factors,
        residual={family: residual[:, column] for column, family in enumerate(FAMILIES)},
        effects=effects,
        counts=counts,
    )


class _Model:
    """Design of the pooled regression: which effect touches which pair, and what scales depend on."""

    def __init__(self, pairs: Sequence[PairedLoads], prior: Prior) -> None:
        level_of = {name: level for pair in pairs for level, name in enumerate(pair.cell.effects)}
        self.names = sorted(level_of)
        self.level_of_effect = np.array([level_of[name] for name in self.names], dtype=int)
        self.base_scales = effect_scales(prior)
        self.design = np.array([[float(name in pair.cell.effects) for name in self.names] for pair in pairs])
        self.family_of_pair = np.array([FAMILIES.index(pair.cell.family) for pair in pairs], dtype=int)
        self.centred = np.array([pair.log_ratio - prior.centre[pair.cell.family] for pair in pairs])
        self.base_residual = np.array([prior.residual[family] for family in FAMILIES])
        # Log factors, standard normal after division: of each level of effects, of all spreads
        # between sessions together, and of each family's own.
        self.levels = len(self.base_scales)
        self.doubt = np.array(
            [prior.scale_doubt] * self.levels + [SHARED_RESIDUAL_DOUBT] + [RESIDUAL_DOUBT] * len(FAMILIES)
        )

    def scales(self, hyper: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Effect factors and residual scales of standardised log factors, last axis hyperparameters."""
        logs = hyper * self.doubt
        shared, own = logs[..., self.levels, None], logs[..., self.levels + 1 :]
        return np.exp(logs[..., : self.levels]), self.base_residual * np.exp(shared + own)

    def effect_sizes(self, factors: FloatArray) -> FloatArray:
        """Standard deviation of every effect in the design, last axis effects."""
        return (self.base_scales * factors)[..., self.level_of_effect]

    def minus_log_posterior(self, hyper: FloatArray, weights: FloatArray) -> float:
        """Of the standardised log factors, up to a constant."""
        factors, residual = self.scales(hyper)
        noise = residual[self.family_of_pair] ** 2 / weights
        evidence = log_marginal_likelihood(self.design, self.centred, noise, self.effect_sizes(factors) ** 2)
        return 0.5 * float(hyper @ hyper) - evidence


def _mode_and_weights(model: _Model) -> tuple[FloatArray, FloatArray]:
    """Mode of the standardised log factors, and the pairs' Student-t weights there."""
    mode, weights = np.zeros(len(model.doubt)), np.ones(len(model.centred))
    if len(model.centred) == 0:
        return mode, weights
    for _ in range(REWEIGHTINGS):
        mode = optimize.minimize(model.minus_log_posterior, mode, args=(weights,), method="BFGS").x
        factors, residual = model.scales(mode)
        scale = residual[model.family_of_pair]
        mean, covariance = posterior(
            model.design, model.centred, scale**2 / weights, model.effect_sizes(factors) ** 2
        )
        spread = np.einsum("ne,ef,nf->n", model.design, covariance, model.design)
        squared = ((model.centred - model.design @ mean) ** 2 + spread) / scale**2
        weights = (DEGREES_OF_FREEDOM + 1) / (DEGREES_OF_FREEDOM + squared)
    return mode, weights


def _hyper_draws(model: _Model, mode: FloatArray, weights: FloatArray, seed: int, kind: str) -> FloatArray:
    """Draws of the standardised log factors from the Laplace approximation, shape (DRAWS, factors)."""
    normals = np.column_stack(
        [standard_normals(athlete_seed(seed, f"{kind}/scale/{index}")) for index in range(len(mode))]
    )
    if len(model.centred) == 0:
        return normals
    precision = _hessian(model, mode, weights)
    values, vectors = linalg.eigh(precision)
    # The prior alone has precision 1; what the data say can only add to it, bar numerical noise.
    root = (vectors / np.sqrt(np.maximum(values, 0.5))) @ vectors.T
    return mode + normals @ root


def _hessian(model: _Model, mode: FloatArray, weights: FloatArray, step: float = 1e-3) -> FloatArray:
    """Second derivatives of the minus log posterior at the mode, by central differences."""

    def gradient(hyper: FloatArray) -> FloatArray:
        return optimize.approx_fprime(hyper, model.minus_log_posterior, 1e-5, weights)

    rows = [
        (gradient(mode + step * unit) - gradient(mode - step * unit)) / (2 * step)
        for unit in np.eye(len(mode))
    ]
    hessian = np.array(rows)
    return (hessian + hessian.T) / 2


def as_bytes(learned: Posterior) -> bytes:
    """Draws of a posterior for a database column; ``from_bytes`` reads them."""
    cells = sorted(learned.counts, key=lambda cell: (cell.instrument, cell.firmware, cell.activity))
    stored = io.BytesIO()
    np.savez_compressed(
        stored,
        effect_factors=learned.effect_factors.astype("<f4"),
        residual=np.array([learned.residual[family] for family in FAMILIES], dtype="<f4"),
        names=np.array(list(learned.effects), dtype=str),
        effects=np.array(list(learned.effects.values()), dtype="<f4"),
        cells=np.array([[c.instrument, c.firmware, c.family, c.activity] for c in cells], dtype=str),
        counts=np.array([learned.counts[cell] for cell in cells], dtype="<i4"),
    )
    return stored.getvalue()


def from_bytes(stored: bytes, prior: Prior, *, seed: int, kind: str) -> Posterior:
    """Posterior from its stored draws."""
    with np.load(io.BytesIO(stored), allow_pickle=False) as held:
        residual = held["residual"].astype(float)
        effects = held["effects"].astype(float)
        return Posterior(
            prior=prior,
            seed=seed,
            kind=kind,
            effect_factors=held["effect_factors"].astype(float),
            residual=dict(zip(FAMILIES, residual, strict=True)),
            effects={str(name): effects[row] for row, name in enumerate(held["names"])},
            counts={
                Cell(*(str(word) for word in words)): int(count)
                for words, count in zip(held["cells"], held["counts"], strict=True)
            },
        )
