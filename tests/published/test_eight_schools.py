"""The pooling machinery on the eight schools, with the spread between schools integrated out.

Rubin DB (1981), J Educ Stat 6:377-401; Gelman A et al. (2013), Bayesian Data Analysis, 3rd edition, section
5.5: flat priors on the mean and on the spread tau.
"""

from functools import cache

import numpy as np
import pandas as pd
import pytest

from accuracy.core.learning.partial_pooling import log_marginal_likelihood, posterior, posterior_draws
from tests.published.tables import table
from trainlog.load.draws import DRAWS, standard_normals

FLAT = 1e4
"""Standard deviation that stands for a flat prior of the common mean."""

DESIGN = np.column_stack([np.ones(8), np.eye(8)])

MEANS = [11.40, 7.89, 6.13, 7.64, 5.13, 6.14, 10.67, 8.46]
SPREADS = [8.34, 6.27, 7.77, 6.55, 6.36, 6.71, 6.79, 7.89]
"""Of the eight effects, by another grid of tau up to 200; not published."""


def schools(name="rubin_1981_eight_schools.csv"):
    known = table(name)
    return known.effect.to_numpy(float), known.standard_error.to_numpy(float) ** 2


def sizes(tau):
    return np.r_[FLAT**2, np.full(8, tau**2)]


@cache
def grid_of_tau():
    """Values of tau and their posterior probabilities."""
    grid = np.arange(0.05, 200, 0.1)
    heights = np.array([log_marginal_likelihood(DESIGN, *schools(), sizes(tau)) for tau in grid])
    weights = np.exp(heights - heights.max())
    return grid, weights / weights.sum()


@cache
def integrated():
    """Mean and standard deviation of the common mean and the eight effects, over the grid."""
    grid, weights = grid_of_tau()
    combined = np.vstack([np.eye(9)[0], DESIGN])
    means, variances = [], []
    for tau in grid:
        mean, covariance = posterior(DESIGN, *schools(), sizes(tau))
        means.append(combined @ mean)
        variances.append(np.diag(combined @ covariance @ combined.T))
    mean = weights @ np.array(means)
    return mean, np.sqrt(weights @ (np.array(variances) + (np.array(means) - mean) ** 2))


@cache
def draws():
    """Draws with tau from its exact grid posterior."""
    grid, weights = grid_of_tau()
    taus = np.interp((np.arange(DRAWS) + 0.5) / DRAWS, np.cumsum(weights), grid)
    taus = taus[np.argsort(standard_normals("order of tau"))]
    effect, variance = schools()
    found = posterior_draws(
        DESIGN,
        effect,
        np.tile(variance, (DRAWS, 1)),
        np.column_stack([np.full(DRAWS, FLAT**2), *[taus**2] * 8]),
        np.column_stack([standard_normals(f"noise {school}") for school in range(8)]),
        np.column_stack([standard_normals(f"effect {name}") for name in range(9)]),
    )
    return taus, found[:, :1] + found[:, 1:]


def test_pooled_completely_the_schools_give_the_published_mean_and_variance():
    """Bayesian Data Analysis prints 7.9 and 17.4, which come from Rubin's decimals."""
    mean, covariance = posterior(
        np.ones((8, 1)), *schools("rubin_1981_eight_schools_decimals.csv"), np.array([FLAT**2])
    )
    assert mean[0] == pytest.approx(7.9, abs=0.05)
    assert covariance[0, 0] == pytest.approx(17.4, abs=0.05)


def test_pooled_completely_the_rounded_schools_give_the_published_mean_and_variance():
    """7.7 and 16.6 are published of the rounded table."""
    mean, covariance = posterior(np.ones((8, 1)), *schools(), np.array([FLAT**2]))
    assert mean[0] == pytest.approx(7.7, abs=0.05)
    assert covariance[0, 0] == pytest.approx(16.6, abs=0.05)


def test_the_spread_between_schools_has_its_exact_posterior():
    """Mode 0, median 5.24, mean 6.575, 95% interval 0.24 to 20.75 by another grid; not published."""
    grid, weights = grid_of_tau()
    quantiles = np.interp([0.025, 0.5, 0.975], np.cumsum(weights), grid + 0.05)
    assert int(np.argmax(weights)) == 0
    assert grid @ weights == pytest.approx(6.575, abs=0.005)
    assert quantiles == pytest.approx([0.24, 5.24, 20.75], abs=0.05)


def test_the_common_mean_has_its_exact_posterior_once_the_spread_is_integrated_out():
    """7.932 and 5.178 by another grid; not published."""
    mean, spread = integrated()
    assert (mean[0], spread[0]) == pytest.approx((7.932, 5.178), abs=0.003)


def test_every_school_has_its_exact_posterior_once_the_spread_is_integrated_out():
    mean, spread = integrated()
    assert mean[1:] == pytest.approx(MEANS, abs=0.006)
    assert spread[1:] == pytest.approx(SPREADS, abs=0.006)


def test_draws_of_the_spread_have_its_exact_median():
    taus, _ = draws()
    assert np.median(taus) == pytest.approx(5.24, abs=0.1)


def test_draws_of_the_schools_have_their_exact_means_and_spreads():
    """The medians agree with Bayesian Data Analysis, Table 5.3 (from memory: 10 8 7 8 5 6 10 8)."""
    _, found = draws()
    assert np.all(np.abs(found.mean(axis=0) - MEANS) < 4 * np.array(SPREADS) / np.sqrt(DRAWS))
    assert found.std(axis=0) == pytest.approx(SPREADS, rel=0.12)


def test_the_schools_table_is_the_one_published():
    assert isinstance(table("rubin_1981_eight_schools.csv"), pd.DataFrame)
    assert table("rubin_1981_eight_schools.csv").effect.tolist() == [28, 8, -3, 7, -1, 1, 18, 12]
