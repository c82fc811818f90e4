"""The pooling machinery as a local level model: a first level that may be anything, and yearly steps.

Durbin J, Koopman SJ (2012), Time Series Analysis by State Space Methods, 2nd edition, chapter 2: flow of the
Nile, variances 15099 of the readings and 1469.1 of the steps.
"""

import numpy as np
import pytest
from scipy import optimize, stats

from accuracy.core.learning.partial_pooling import log_marginal_likelihood, posterior
from tests.published.tables import table

READING, STEP = 15099.0, 1469.1

DIFFUSE = 1e6
"""Standard deviation that stands for knowing nothing of the first level."""


def flows(years=100):
    return table("cobb_1978_nile.csv").volume.to_numpy(float)[:years]


def level_model(years, step):
    """Every level is the first one and the steps since."""
    return np.tril(np.ones((years, years))), np.r_[DIFFUSE**2, np.full(years - 1, step)]


def last_level(years):
    """Mean and variance of the level of a year, from the flows up to it."""
    design, size = level_model(years, STEP)
    mean, covariance = posterior(design, flows(years), np.full(years, READING), size)
    return mean.sum(), covariance.sum()


def diffuse_log_likelihood(reading, step):
    """Log density of 99 flows given the first, which is all a diffuse level lets one say."""
    design, size = level_model(100, step)
    whole = log_marginal_likelihood(design, flows(), np.full(100, reading), size)
    return whole - stats.norm.logpdf(flows()[0], 0, np.sqrt(DIFFUSE**2 + reading))


def test_the_log_likelihood_is_the_published_one():
    """-632.5456 is in a public test file of the package KFAS, by 99 terms; one more constant of a
    hundredth term would make it -633.4646."""
    assert diffuse_log_likelihood(READING, STEP) == pytest.approx(-632.5456, abs=2e-4)


def test_the_likelihood_peaks_at_the_published_variances():
    """KFAS 15098.53 and 1469.178; Durbin and Koopman 15099 and 1469.1 (from memory)."""
    peak = optimize.minimize(
        lambda logs: -diffuse_log_likelihood(*np.exp(logs)), np.log([10000.0, 3000.0]), method="Nelder-Mead"
    ).x
    assert np.exp(peak) == pytest.approx([15098.53, 1469.178], rel=0.002)


@pytest.mark.parametrize(("years", "level"), [(1, 1120.0), (2, 1140.9278), (3, 1072.7985), (100, 798.3703)])
def test_the_filtered_level_of_a_year_follows_from_the_flows_so_far(years, level):
    """Kalman filter at Durbin and Koopman's variances; by another implementation, not published."""
    assert last_level(years)[0] == pytest.approx(level, abs=2e-4)


def test_the_filtered_variance_settles_where_the_kalman_filter_does():
    """4032.158 by a Kalman filter at Durbin and Koopman's variances, not published."""
    assert last_level(100)[1] == pytest.approx(4032.158, abs=0.002)


def test_the_steady_gain_is_the_weight_of_the_last_flow():
    """0.2670480 by a Kalman filter at Durbin and Koopman's variances, not published."""
    assert last_level(100)[1] / READING == pytest.approx(0.2670480, abs=1e-6)


def test_smoothed_levels_are_those_of_a_smoother_that_goes_forth_and_back():
    """Filter and fixed-interval smoother of Durbin and Koopman, sections 2.2 and 2.4, written here."""
    flow, level, variance = flows(), 0.0, DIFFUSE**2
    predicted, filtered = [], []
    for reading in flow:
        predicted.append((level, variance))
        gain = variance / (variance + READING)
        level, variance = level + gain * (reading - level), variance * (1 - gain)
        filtered.append((level, variance))
        variance += STEP
    smoothed = [filtered[-1][0]]
    for year in range(98, -1, -1):
        back = filtered[year][1] / predicted[year + 1][1]
        smoothed.append(filtered[year][0] + back * (smoothed[-1] - predicted[year + 1][0]))
    design, size = level_model(100, STEP)
    mean, _ = posterior(design, flow, np.full(100, READING), size)
    assert np.cumsum(mean) == pytest.approx(smoothed[::-1], abs=0.001)
