"""The pooling machinery against published random-effects results."""

import numpy as np
import pytest

from accuracy.core.learning.partial_pooling import log_marginal_likelihood, posterior
from tests.published.tables import table

FLAT = 1e4
"""Standard deviation that stands for a flat prior of the common mean."""


def vaccine_trials():
    """Log risk ratios and their variances of 13 trials; Colditz et al. 1994, JAMA 271:698."""
    trials = table("colditz_1994_bcg.csv")
    treated, control = trials.tpos + trials.tneg, trials.cpos + trials.cneg
    log_ratio = np.log((trials.tpos / treated) / (trials.cpos / control))
    variance = 1 / trials.tpos - 1 / treated + 1 / trials.cpos - 1 / control
    return log_ratio.to_numpy(), variance.to_numpy()


def common_mean_and_departures(count):
    return np.column_stack([np.ones(count), np.eye(count)])


def test_a_random_effects_mean_and_its_error_match_the_published_reml_fit():
    """metafor's documentation prints tau^2 0.3132 for these trials; -0.7145 (0.1798) by computation."""
    log_ratio, variance = vaccine_trials()
    tau_squared = 0.3132433
    mean, covariance = posterior(
        common_mean_and_departures(13), log_ratio, variance, np.r_[FLAT**2, np.full(13, tau_squared)]
    )
    assert mean[0] == pytest.approx(-0.7145323, abs=1e-5)
    assert np.sqrt(covariance[0, 0]) == pytest.approx(0.1797815, abs=1e-5)


def test_each_trial_is_drawn_toward_the_mean_as_far_as_its_weight_says():
    """Best linear unbiased predictions under REML, computed by an independent implementation."""
    log_ratio, variance = vaccine_trials()
    mean, _ = posterior(
        common_mean_and_departures(13), log_ratio, variance, np.r_[FLAT**2, np.full(13, 0.3132433)]
    )
    expected = [
        *(-0.8002, -1.2517, -0.9869, -1.3979, -0.2874, -0.7846, -1.2440),
        *(0.0029, -0.5068, -1.2472, -0.3537, -0.2847, -0.1467),
    ]
    assert mean[0] + mean[1:] == pytest.approx(expected, abs=1e-4)


def test_the_marginal_likelihood_peaks_at_the_published_maximum_likelihood_spread():
    """Maximum likelihood tau^2 0.2800281 for the same trials, mean at -0.7111992."""
    log_ratio, variance = vaccine_trials()
    grid = np.arange(0.10, 0.60, 0.002)
    heights = [
        log_marginal_likelihood(np.eye(13), log_ratio + 0.7111992, variance, np.full(13, tau_squared))
        for tau_squared in grid
    ]
    assert grid[int(np.argmax(heights))] == pytest.approx(0.2800281, abs=0.002)


def test_the_marginal_likelihood_equals_that_of_the_full_covariance():
    from scipy.stats import multivariate_normal

    log_ratio, variance = vaccine_trials()
    whole = multivariate_normal(np.zeros(13), np.diag(variance) + 0.3 + 0.2 * np.eye(13))
    design, effects = common_mean_and_departures(13), np.r_[0.3, np.full(13, 0.2)]
    assert log_marginal_likelihood(design, log_ratio, variance, effects) == pytest.approx(
        whole.logpdf(log_ratio)
    )
