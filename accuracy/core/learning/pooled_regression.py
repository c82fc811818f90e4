"""Partially pooled linear regression with Student-t noise, whose every scale is learned.

``y = design @ effects + noise``. Each effect belongs to a level; its standard deviation is the level's base
scale times the level's learned factor, times a scale of noise where the effect is a slope. Noise has a
family's own scale. Factors are log-normal around 1; their posterior is taken as normal about its mode
(Laplace), with the curvature that is left once the weights of the Student-t noise move along; the effects
are drawn given scales and drawn weights.

References
----------
Gelman A et al. (2013). Bayesian Data Analysis, 3rd edition, chapters 5, 13.3, 15 and 17.
Lange KL, Little RJA, Taylor JMG (1989). Robust statistical modeling using the t distribution.
J Am Stat Assoc 84:881-896 (weights of the Student-t noise).
Oakes D (1999). Direct calculation of the information matrix via the EM algorithm. J R Stat Soc B 61:479-482.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import scipy
from numpy.typing import NDArray
from scipy import linalg, special

from accuracy.core.learning.partial_pooling import log_marginal_likelihood, posterior, posterior_draws
from trainlog.trace import FloatArray

DEGREES_OF_FREEDOM = 4.0
"""Of the Student-t spread between sessions (Gelman et al. 2013, section 17.2, use 4 as a robust choice)."""

SHARED_NOISE_DOUBT = 0.4
"""Standard deviation of the log scale that all families' noise shares (common practice, no source)."""

OWN_NOISE_DOUBT = 0.4
"""Standard deviation of the log scale of one family's own noise (common practice, no source)."""

REWEIGHTINGS = 4
"""Rounds of Student-t weights; they settle to three digits by then on the demo's pairs."""

SETTLING = 2
"""Rounds of weights that follow a small step of the scales."""

FARTHEST = 6.0
"""Standard deviations that a log factor may lie from 0. Pairs that repeat each other exactly would otherwise
send the noise to nothing."""

NODES, NODE_WEIGHTS = np.polynomial.hermite_e.hermegauss(9)
"""Of expectations over a normal residual."""

NORMAL_GRID = np.linspace(-4.0, 4.0, 801)

GAMMA_GRID = special.gammaincinv((DEGREES_OF_FREEDOM + 1) / 2, special.ndtr(NORMAL_GRID))
"""Standard gamma variates at standard normals of the same probability."""

NO_NOISE, SHARED_NOISE, OWN_NOISE = range(3)
"""Whether a level's scale is absolute, follows the noise of all families, or that of the effect's own."""


@dataclass(frozen=True)
class Level:
    """Effects of one kind.

    Attributes
    ----------
    scale : float
        Prior standard deviation of an effect, or its multiple of the noise.
    doubt : float
        Standard deviation of the log factor on it.
    follows : int
        ``NO_NOISE``, ``SHARED_NOISE`` or ``OWN_NOISE``.
    """

    scale: float
    doubt: float
    follows: int = NO_NOISE


@dataclass(frozen=True, eq=False)
class Problem:
    """Data of one regression.

    Attributes
    ----------
    design : array, shape (observations, effects)
    observed : array, shape (observations,)
        Less any offset.
    levels : sequence of Level
    level_of_effect, family_of_effect : array of int, shape (effects,)
        The latter counts only for effects whose level follows their own family's noise.
    family_of_observation : array of int, shape (observations,)
    base_noise : array, shape (families,)
        Scale of the noise at factors of 1.
    """

    design: FloatArray
    observed: FloatArray
    levels: Sequence[Level]
    level_of_effect: NDArray[np.int64]
    family_of_effect: NDArray[np.int64]
    family_of_observation: NDArray[np.int64]
    base_noise: FloatArray

    @cached_property
    def doubt(self) -> FloatArray:
        """Standard deviations of the log factors: of levels, of all noise together, of each family's."""
        own = [OWN_NOISE_DOUBT] * len(self.base_noise)
        return np.array([level.doubt for level in self.levels] + [SHARED_NOISE_DOUBT] + own)

    @cached_property
    def _follows(self) -> NDArray[np.int64]:
        """Of each effect, what the scale of its level follows."""
        return np.array([level.follows for level in self.levels], dtype=int)[self.level_of_effect]

    @cached_property
    def _base_scales(self) -> FloatArray:
        """Scale of each level at a factor of 1."""
        return np.array([level.scale for level in self.levels])

    def noise(self, hyper: FloatArray) -> FloatArray:
        """Noise scale of each family, last axis families, from standardised log factors."""
        logs = hyper * self.doubt
        count = len(self.levels)
        return self.base_noise * np.exp(logs[..., count, None] + logs[..., count + 1 :])

    def shared_noise(self, hyper: FloatArray) -> FloatArray:
        """Scale that slopes for all families together are measured by, of the shape of the draws."""
        return np.asarray(np.exp((hyper * self.doubt)[..., len(self.levels)]) * self.base_noise.mean())

    def level_scales(self, hyper: FloatArray) -> FloatArray:
        """Scale of each level, last axis levels, the noise that it follows left out."""
        logs = hyper * self.doubt
        return self._base_scales * np.exp(logs[..., : len(self.levels)])

    def effect_scales(self, hyper: FloatArray) -> FloatArray:
        """Prior standard deviation of each effect, last axis effects."""
        shared = self.shared_noise(hyper)[..., None]
        own = self.noise(hyper)[..., self.family_of_effect]
        follows = self._follows
        multiple = np.where(follows == OWN_NOISE, own, np.where(follows == SHARED_NOISE, shared, 1.0))
        return self.level_scales(hyper)[..., self.level_of_effect] * multiple

    def gradient_map(self) -> tuple[FloatArray, FloatArray]:
        """How the log scales of effects and of observations' noise move with the log factors.

        Returns
        -------
        tuple of arrays, shapes (effects, factors) and (observations, factors)
        """
        count = len(self.levels)
        factors = count + 1 + len(self.base_noise)
        follows = self._follows
        effects = np.zeros((len(self.level_of_effect), factors))
        rows = np.arange(len(effects))
        effects[rows, self.level_of_effect] = 1
        effects[:, count] = follows != NO_NOISE
        effects[rows, count + 1 + self.family_of_effect] = follows == OWN_NOISE
        noise = np.zeros((len(self.observed), factors))
        noise[:, count] = 1
        noise[np.arange(len(noise)), count + 1 + self.family_of_observation] = 1
        return effects * self.doubt, noise * self.doubt


@dataclass(frozen=True, eq=False)
class Fitted:
    """Mode of the scales and what surrounds it.

    Attributes
    ----------
    problem : Problem
    mode : array, shape (factors,)
        Standardised log factors.
    root : array, shape (factors, factors)
        Symmetric root of their covariance.
    weights : array, shape (observations,)
        Student-t weights at the mode.
    """

    problem: Problem
    mode: FloatArray
    root: FloatArray
    weights: FloatArray

    def hyper(self, normals: FloatArray) -> FloatArray:
        """Draws of the standardised log factors from standard normals, shape (draws, factors)."""
        return self.mode + normals @ self.root

    def effect_draws(
        self, hyper: FloatArray, noise_normals: FloatArray, effect_normals: FloatArray
    ) -> FloatArray:
        """Draws of the effects, each under its own scales, shape (draws, effects).

        Parameters
        ----------
        hyper : array, shape (draws, factors)
        noise_normals : array, shape (draws, observations)
        effect_normals : array, shape (draws, effects)
        """
        problem = self.problem
        variance = problem.noise(hyper)[:, problem.family_of_observation] ** 2
        sizes = problem.effect_scales(hyper) ** 2

        def draws(weights: FloatArray, apart: int) -> FloatArray:
            # Normals of other draws stand in for fresh ones.
            normals = (np.roll(one, apart, axis=0) for one in (noise_normals, effect_normals))
            return posterior_draws(problem.design, problem.observed, variance / weights, sizes, *normals)

        first = draws(self.weights, 1)
        squared = (problem.observed - first @ problem.design.T) ** 2 / variance
        gamma = np.interp(np.roll(noise_normals, 2, axis=0), NORMAL_GRID, GAMMA_GRID)
        return draws(2 * gamma / (DEGREES_OF_FREEDOM + squared), 0)


def fit(problem: Problem) -> Fitted:
    """Find the mode of the scales and the curvature about it."""
    factors = len(problem.doubt)
    mode, weights = np.zeros(factors), np.ones(len(problem.observed))
    if not len(problem.observed):
        return Fitted(problem, mode, np.eye(factors), weights)
    target = _Target(problem)
    for _ in range(REWEIGHTINGS):
        mode = scipy.optimize.minimize(
            target,
            mode,
            args=(weights,),
            jac=True,
            method="L-BFGS-B",
            bounds=[(-FARTHEST, FARTHEST)] * factors,
        ).x
        weights = target.student_weights(mode, weights)
    precision = _hessian(target, mode, weights)
    values, vectors = linalg.eigh(precision)
    # The prior alone has precision 1; what the data say can only add to it, bar numerical noise.
    root = (vectors / np.sqrt(np.maximum(values, 0.5))) @ vectors.T
    return Fitted(problem, mode, root, weights)


class _Target:
    """Minus log posterior of the standardised log factors, and its gradient."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.effects_move, self.noise_moves = problem.gradient_map()

    def __call__(self, hyper: FloatArray, weights: FloatArray) -> tuple[float, FloatArray]:
        problem = self.problem
        noise = problem.noise(hyper)[problem.family_of_observation] ** 2 / weights
        sizes = problem.effect_scales(hyper) ** 2
        evidence = log_marginal_likelihood(problem.design, problem.observed, noise, sizes)
        mean, covariance = posterior(problem.design, problem.observed, noise, sizes)
        squared = self._squared(mean, covariance)
        # Of the log scales, by Fisher's identity: expected squares over variances, less one each.
        by_effect = (mean**2 + np.diag(covariance)) / sizes - 1
        by_noise = squared / noise - 1
        slope = by_effect @ self.effects_move + by_noise @ self.noise_moves
        return 0.5 * float(hyper @ hyper) - evidence, hyper - slope

    def student_weights(self, hyper: FloatArray, weights: FloatArray) -> FloatArray:
        """Weights of the observations given the scales.

        Each is such that its product with the expected squared residual is the expected product of the
        two: a residual that may be far off weighs less.
        """
        problem, design = self.problem, self.problem.design
        scale = problem.noise(hyper)[problem.family_of_observation] ** 2
        mean, covariance = posterior(
            problem.design, problem.observed, scale / weights, problem.effect_scales(hyper) ** 2
        )
        spread = np.sqrt(np.einsum("ne,ne->n", design @ covariance, design))
        residuals = (problem.observed - design @ mean)[:, None] + spread[:, None] * NODES
        # A residual of nothing, sure to the bit, has the weight of a tiny one.
        squared = np.maximum(residuals**2 / scale[:, None], 1e-12)
        weighted = squared * (DEGREES_OF_FREEDOM + 1) / (DEGREES_OF_FREEDOM + squared)
        return np.asarray(weighted @ NODE_WEIGHTS / (squared @ NODE_WEIGHTS))

    def settled(self, hyper: FloatArray, weights: FloatArray) -> FloatArray:
        """Weights given the scales after some rounds."""
        for _ in range(SETTLING):
            weights = self.student_weights(hyper, weights)
        return weights

    def _squared(self, mean: FloatArray, covariance: FloatArray) -> FloatArray:
        """Expected squared residuals."""
        design = self.problem.design
        spread = np.einsum("ne,ne->n", design @ covariance, design)
        return (self.problem.observed - design @ mean) ** 2 + spread


def _hessian(target: _Target, mode: FloatArray, weights: FloatArray, step: float = 1e-3) -> FloatArray:
    """Second derivatives at the mode, by central differences of the gradient, the weights moving along."""

    def gradient(hyper: FloatArray) -> FloatArray:
        return target(hyper, target.settled(hyper, weights))[1]

    units = step * np.eye(len(mode))
    hessian = np.array([(gradient(mode + unit) - gradient(mode - unit)) / (2 * step) for unit in units])
    return (hessian + hessian.T) / 2
