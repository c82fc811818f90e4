"""What a pooled regression would have said of each observation, had its workout not been there.

The scales keep their posterior of all observations, the effects are refitted without the workout in closed
form. This approximates refitting everything, which the evaluation does; a learner that weighs candidates at
every refit cannot.

References
----------
Vehtari A, Gelman A, Gabry J (2017). Practical Bayesian model evaluation using leave-one-out
cross-validation and WAIC. Stat Comput 27:1413-1432.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import special

from accuracy.core.learning.pooled_regression import DEGREES_OF_FREEDOM, Fitted
from trainlog.trace import FloatArray

COVERAGES = (0.5, 0.8, 0.95)
"""Of the central intervals that predictions are held to."""


@dataclass(frozen=True, eq=False)
class LeftOut:
    """Predictions of each observation from the other workouts.

    Attributes
    ----------
    log_density : array, shape (observations,)
        Of the observation under its prediction.
    probability : array, shape (observations,)
        Of the prediction lying below the observation (probability integral transform).
    expected : array, shape (observations,)
    """

    log_density: FloatArray
    probability: FloatArray
    expected: FloatArray


def leave_workouts_out(fitted: Fitted, workouts: Sequence[Sequence[int]], hyper: FloatArray) -> LeftOut:
    """Predict every observation from those of other workouts.

    Parameters
    ----------
    fitted : Fitted
    workouts : sequence of sequences of int
        Places of each workout's observations; together all of them, once each.
    hyper : array, shape (draws, factors)
        Draws of the standardised log factors to average over.
    """
    problem = fitted.problem
    count = len(problem.observed)
    noise = problem.noise(hyper)[:, problem.family_of_observation]
    sizes = problem.effect_scales(hyper)
    expected, scale = np.zeros((len(hyper), count)), np.zeros((len(hyper), count))
    alone = np.array([places[0] for places in workouts if len(places) == 1], dtype=int)
    together = [np.array(places) for places in workouts if len(places) > 1]
    for draw in range(len(hyper)):
        weight = fitted.weights / noise[draw] ** 2
        hat, residual = _hat(problem.design, problem.observed, weight, sizes[draw])
        left = 1 - hat.diagonal(alone) * weight[alone]
        expected[draw, alone] = problem.observed[alone] - residual[alone] / left
        scale[draw, alone] = hat.diagonal(alone) / left
        for places in together:
            block = hat.block(places)
            remaining = np.eye(len(places)) - block * weight[places]
            expected[draw, places] = problem.observed[places] - np.linalg.solve(remaining, residual[places])
            scale[draw, places] = np.diag(np.linalg.solve(remaining, block))
    scale = np.sqrt(noise**2 + np.maximum(scale, 0.0))
    standardised = (problem.observed - expected) / scale
    density = np.exp(_log_student(standardised)) / scale
    return LeftOut(
        np.log(density.mean(axis=0)),
        special.stdtr(DEGREES_OF_FREEDOM, standardised).mean(axis=0),
        expected.mean(axis=0),
    )


@dataclass(frozen=True, eq=False)
class _Hat:
    """Covariance of the fitted values, of which only some blocks are wanted."""

    design: FloatArray
    spread: FloatArray

    def diagonal(self, places: np.ndarray) -> FloatArray:
        return np.einsum("ne,ne->n", self.spread[places], self.design[places])

    def block(self, places: np.ndarray) -> FloatArray:
        return self.spread[places] @ self.design[places].T


def _hat(
    design: FloatArray, observed: FloatArray, weight: FloatArray, sizes: FloatArray
) -> tuple[_Hat, FloatArray]:
    """Covariance of the fitted values and the residuals, given every scale."""
    precision = (design.T * weight) @ design + np.diag(1 / sizes**2)
    covariance = np.linalg.inv(precision)
    spread = design @ covariance
    return _Hat(design, spread), observed - spread @ (design.T @ (weight * observed))


def _log_student(standardised: FloatArray) -> FloatArray:
    """Log density of the Student-t noise at a scale of 1."""
    freedom = DEGREES_OF_FREEDOM
    constant = (
        special.gammaln((freedom + 1) / 2) - special.gammaln(freedom / 2) - 0.5 * np.log(freedom * np.pi)
    )
    return constant - (freedom + 1) / 2 * np.log1p(standardised**2 / freedom)
