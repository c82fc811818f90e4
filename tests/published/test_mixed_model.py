"""The pooling machinery as a mixed model: a mean line and each person's own, on published data.

Reaction ~ day + (day | subject) for the table of 18 drivers. "Reference pages" are those of lme4, the package
of Bates D et al. (2015), J Stat Softw 67(1):1-48, which print its REML fit.
"""

import numpy as np
import pytest
from scipy import optimize

from accuracy.core.learning.partial_pooling import log_marginal_likelihood, posterior
from tests.published.tables import table

FLAT = 1e6
"""Standard deviation that stands for a flat prior of the mean line."""

REML = (24.74042, 5.92213, 0.0656, 25.59182)
"""Standard deviations of intercepts and slopes, their correlation, residual standard deviation."""

MAXIMUM_LIKELIHOOD = (23.7806, 5.7169, 0.0813, 25.5918)


def days_and_reactions():
    drivers = table("belenky_2003_sleep.csv")
    line = np.column_stack([np.ones(len(drivers)), drivers.day])
    return drivers.subject.to_numpy(), line, drivers.reaction.to_numpy()


def own_lines(components):
    """Columns of each subject's two independent standard normals, and their mixing matrix."""
    intercept, slope, correlation, _ = components
    mixing = np.array([[intercept, 0.0], [slope * correlation, slope * np.sqrt(1 - correlation**2)]])
    subject, line, _ = days_and_reactions()
    columns = [line @ mixing * (subject == one)[:, None] for one in np.unique(subject)]
    return np.hstack(columns), mixing


def fitted(components):
    _, line, reaction = days_and_reactions()
    own, mixing = own_lines(components)
    noise = np.full(len(reaction), components[3] ** 2)
    size = np.r_[FLAT**2, FLAT**2, np.ones(own.shape[1])]
    mean, covariance = posterior(np.hstack([line, own]), reaction, noise, size)
    return mean, covariance, mixing


def log_likelihood(components):
    """Highest over the mean line, as maximum likelihood has it."""
    _, line, reaction = days_and_reactions()
    own, _ = own_lines(components)
    mean, _, _ = fitted(components)
    noise = np.full(len(reaction), components[3] ** 2)
    return log_marginal_likelihood(own, reaction - line @ mean[:2], noise, np.ones(own.shape[1]))


def test_the_mean_line_and_its_errors_are_the_published_ones():
    """Reference pages print 251.405 (6.825) and 10.467; the second error, 1.546, is computed."""
    mean, covariance, _ = fitted(REML)
    assert mean[:2] == pytest.approx([251.40510, 10.46729], abs=1e-4)
    assert np.sqrt(np.diag(covariance)[:2]) == pytest.approx([6.82455, 1.54579], abs=2e-4)


def test_each_drivers_line_is_drawn_to_the_mean_line_as_its_predictions_are():
    """Best linear unbiased predictions of three drivers; by another implementation, not published."""
    mean, _, mixing = fitted(REML)
    subject, _, _ = days_and_reactions()
    departures = mean[2:].reshape(-1, 2) @ mixing.T
    found = dict(zip(np.unique(subject), departures, strict=True))
    assert found[308] == pytest.approx([2.2586, 9.1990], abs=0.002)
    assert found[309] == pytest.approx([-40.3986, -8.6197], abs=0.002)
    assert found[335] == pytest.approx([-0.3338, -10.7521], abs=0.002)


def test_with_a_flat_mean_line_the_marginal_likelihood_is_the_published_restricted_one():
    """Reference pages print a REML criterion of 1743.628; a flat prior adds only its own constant."""
    _, line, reaction = days_and_reactions()
    own, _ = own_lines(REML)
    noise = np.full(len(reaction), REML[3] ** 2)
    size = np.r_[FLAT**2, FLAT**2, np.ones(own.shape[1])]
    evidence = log_marginal_likelihood(np.hstack([line, own]), reaction, noise, size)
    assert -2 * evidence - 2 * np.log(2 * np.pi * FLAT**2) == pytest.approx(1743.628, abs=0.001)


def test_the_deviance_at_the_maximum_likelihood_components_is_the_known_one():
    """Deviance 1751.9393, by another implementation (lme4's 1751.939 from memory)."""
    assert -2 * log_likelihood(MAXIMUM_LIKELIHOOD) == pytest.approx(1751.9393, abs=0.001)


def test_the_marginal_likelihood_peaks_at_the_maximum_likelihood_components():
    """Components by another implementation, not published."""

    def minus(free):
        return -log_likelihood((np.exp(free[0]), np.exp(free[1]), np.tanh(free[2]), np.exp(free[3])))

    start = np.array([np.log(30.0), np.log(4.0), 0.0, np.log(30.0)])
    peak = optimize.minimize(minus, start, method="BFGS", options={"gtol": 1e-4}).x
    found = [np.exp(peak[0]), np.exp(peak[1]), np.tanh(peak[2]), np.exp(peak[3])]
    assert found == pytest.approx(MAXIMUM_LIKELIHOOD, rel=0.003)
