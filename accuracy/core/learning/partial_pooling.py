"""Linear Gaussian model with independent normal effects: the machinery under the error profiles.

``y = offset + design @ effects + noise`` with ``effects ~ N(0, effect_variance)`` and
``noise ~ N(0, noise_variance)``, both diagonal. Pooling is partial because each effect is drawn toward
zero as far as its variance says.

References
----------
Gelman A, Carlin JB, Stern HS, Dunson DB, Vehtari A, Rubin DB (2013). Bayesian Data Analysis, 3rd
edition, chapter 5 and section 15.3.
"""

from __future__ import annotations

import numpy as np
from scipy import linalg

from trainlog.trace import FloatArray


def posterior(
    design: FloatArray, centred: FloatArray, noise_variance: FloatArray, effect_variance: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Mean and covariance of the effects given the variances.

    Parameters
    ----------
    design : array, shape (observations, effects)
    centred : array, shape (observations,)
        Observations less their offset.
    noise_variance : array, shape (observations,)
    effect_variance : array, shape (effects,)

    Returns
    -------
    tuple of array
        Shapes (effects,) and (effects, effects).
    """
    precision = (design.T / noise_variance) @ design + np.diag(1 / effect_variance)
    covariance = linalg.inv(precision)
    return covariance @ (design.T @ (centred / noise_variance)), covariance


def log_marginal_likelihood(
    design: FloatArray, centred: FloatArray, noise_variance: FloatArray, effect_variance: FloatArray
) -> float:
    """Log density of the observations with the effects integrated out.

    Parameters and shapes as for ``posterior``. Worked out in the space of the effects, which are fewer
    than the observations (matrix determinant and inversion lemmas).
    """
    precision = (design.T / noise_variance) @ design + np.diag(1 / effect_variance)
    factor = linalg.cholesky(precision, lower=True)
    pull = linalg.solve_triangular(factor, design.T @ (centred / noise_variance), lower=True)
    misfit = centred @ (centred / noise_variance) - pull @ pull
    log_determinant = (
        2 * np.sum(np.log(np.diag(factor))) + np.sum(np.log(effect_variance)) + np.sum(np.log(noise_variance))
    )
    return float(-0.5 * (misfit + log_determinant + len(centred) * np.log(2 * np.pi)))


def posterior_draws(
    design: FloatArray,
    centred: FloatArray,
    noise_variance: FloatArray,
    effect_variance: FloatArray,
    noise_normals: FloatArray,
    effect_normals: FloatArray,
) -> FloatArray:
    """Draws of the effects, each under its own variances, by perturbing data and prior and optimising.

    Draw k solves for the effects with its own perturbed observations and prior means, which gives exact
    draws of the Gaussian posterior. Since every effect and every observation keeps its own normals, one
    more observation moves the draws a little instead of shuffling them.

    Parameters
    ----------
    design : array, shape (observations, effects)
    centred : array, shape (observations,)
    noise_variance : array, shape (draws, observations)
    effect_variance : array, shape (draws, effects)
    noise_normals : array, shape (draws, observations)
        Standard normals of the observations.
    effect_normals : array, shape (draws, effects)
        Standard normals of the effects.

    Returns
    -------
    array, shape (draws, effects)

    References
    ----------
    Papandreou G, Yuille A (2010). Gaussian sampling by local perturbations. NIPS 23.
    """
    weighted = design[None, :, :] / noise_variance[:, :, None]
    precision = np.einsum("kne,nf->kef", weighted, design, optimize=True)
    diagonal = np.arange(design.shape[1])
    precision[:, diagonal, diagonal] += 1 / effect_variance
    perturbed = centred + np.sqrt(noise_variance) * noise_normals
    pull = np.einsum("kne,kn->ke", weighted, perturbed, optimize=True) + effect_normals / np.sqrt(
        effect_variance
    )
    return np.linalg.solve(precision, pull[:, :, None])[:, :, 0]
