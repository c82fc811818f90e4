"""Weights of predictive distributions by how they foretold what was left out, and how wide they should be.

References
----------
Yao Y, Vehtari A, Simpson D, Gelman A (2018). Using stacking to average Bayesian predictive distributions.
Bayesian Analysis 13:917-1007.
Yao Y, Pirs G, Vehtari A, Gelman A (2022). Bayesian hierarchical stacking. Bayesian Analysis 17:1043-1071
(weights that differ between families and are drawn together).
Dawid AP (1984). Present position and potential developments: some personal views: statistical theory: the
prequential approach. J R Stat Soc A 147:278-292 (probability integral transform).
"""

from __future__ import annotations

import numpy as np
import scipy
from numpy.typing import NDArray
from scipy import special

from trainlog.trace import FloatArray

SHARED_LOGIT_SCALE, FAMILY_LOGIT_SCALE = 1.5, 1.0
"""Prior standard deviations of a candidate's log weight over all families and of a family's departure
(common practice, no source)."""

CALIBRATED_SESSIONS = 40.0
"""Well-calibrated sessions that the pairs' own calibration is weighed against (common practice, no
source)."""

LARGEST_SCORE = 3.0
"""Standardised score beyond which one session says no more of the width (common practice, no source)."""


def stacking_weights(
    log_density: FloatArray, family: NDArray[np.int64], families: int, expected: FloatArray
) -> FloatArray:
    """Weights of candidates in each family that make the left-out log score highest.

    Parameters
    ----------
    log_density : array, shape (observations, candidates)
        Of each observation, its workout left out.
    family : array of int, shape (observations,)
    families : int
        How many there are.
    expected : array, shape (candidates,)
        Log weights to expect before any observation.

    Returns
    -------
    array, shape (families, candidates)
        Rows sum to 1. Families without observations get what all together say.
    """
    candidates = len(expected)
    density = np.exp(log_density - log_density.max(axis=1, keepdims=True))
    scales = np.concatenate(
        [np.full(candidates, SHARED_LOGIT_SCALE), np.full(families * candidates, FAMILY_LOGIT_SCALE)]
    )

    def weights(logits: FloatArray) -> FloatArray:
        own = logits[candidates:].reshape(families, candidates)
        return np.asarray(special.softmax(expected + logits[:candidates] + own, axis=1))

    def loss(logits: FloatArray) -> tuple[float, FloatArray]:
        weight = weights(logits)[family]
        mixed = (density * weight).sum(axis=1)
        pull = weight - density * weight / mixed[:, None]
        by_family = np.zeros((families, candidates))
        np.add.at(by_family, family, pull)
        gradient = np.concatenate([by_family.sum(axis=0), by_family.ravel()])
        standardised = logits / scales
        value = -float(np.log(mixed).sum()) + 0.5 * float(standardised @ standardised)
        return value, gradient + standardised / scales

    start = np.zeros(candidates * (families + 1))
    return weights(scipy.optimize.minimize(loss, start, jac=True, method="L-BFGS-B").x)


def standardised_scores(probability: FloatArray) -> FloatArray:
    """Normal scores of probability integral transforms: standard normal where calibrated."""
    return np.asarray(special.ndtri(np.clip(probability, 1e-6, 1 - 1e-6)))


def inflation(scores: FloatArray) -> float:
    """Factor on the width of predictions that would calibrate their standardised scores.

    Parameters
    ----------
    scores : array, shape (sessions,)
        Pooled over all cells; few sessions leave the factor near 1.
    """
    squares = np.minimum(np.abs(scores), LARGEST_SCORE) ** 2
    return float(np.sqrt((CALIBRATED_SESSIONS + squares.sum()) / (CALIBRATED_SESSIONS + len(scores))))
