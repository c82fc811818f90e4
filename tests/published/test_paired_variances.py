"""Variances and means of paired values against a published data set and second implementations."""

import numpy as np
import pytest
import statsmodels.api as sm
from scipy import stats

from accuracy.core.agreement.paired_differences import holm, paired_difference, sign_flip_test
from accuracy.core.agreement.paired_variances import variance_ratio
from tests.published.tables import table


def fuses():
    data = table("grubbs_1973_fuses.csv")
    return data["first"].to_numpy(), data["second"].to_numpy()


def meters():
    data = table("bland_altman_1986_pefr.csv")
    return data["wright1"].to_numpy(float), data["mini1"].to_numpy(float)


def test_equal_variances_of_grubbs_fuses_match_the_regression_printed_for_them():
    """Grubbs (1973): differences on sums give t = -0.2168216 on 18 degrees of freedom, p = 0.8307859."""
    assert variance_ratio(*fuses()).p == pytest.approx(0.8307859, abs=2e-6)


def test_the_difference_of_grubbs_fuses_matches_what_is_printed_for_it():
    """Grubbs (1973), the two clocks: mean difference 0.2105 s, paired t p = 1.281159e-16."""
    first, second = fuses()

    found = paired_difference(second, first)

    assert found.difference == pytest.approx(0.2105, abs=1e-9)
    assert found.p == pytest.approx(1.281159e-16, rel=1e-6)


@pytest.mark.parametrize("data", [fuses, meters])
def test_the_test_of_equal_variances_is_the_correlation_of_differences_and_sums(data):
    x, y = data()

    assert variance_ratio(x, y).p == pytest.approx(stats.pearsonr(x - y, x + y).pvalue, rel=1e-9)


@pytest.mark.parametrize("data", [fuses, meters])
def test_the_joint_test_is_the_f_test_of_the_regression_of_differences_on_sums(data):
    """Bradley and Blackwood (1989): neither intercept nor slope, by statsmodels' general F test."""
    x, y = data()

    fitted = sm.OLS(x - y, sm.add_constant(x + y)).fit()

    assert variance_ratio(x, y).joint_p == pytest.approx(float(fitted.f_test(np.eye(2)).pvalue), rel=1e-9)


@pytest.mark.parametrize("data", [fuses, meters])
def test_the_ends_of_the_interval_are_the_ratios_that_the_test_just_keeps(data):
    """Pitman (1939): the interval turns the test around, scaling one of both by the ratio's root."""
    x, y = data()
    found = variance_ratio(x, y)

    for end in (found.low, found.high):
        assert variance_ratio(x, y * np.sqrt(end)).p == pytest.approx(0.05, abs=1e-9)


def test_the_paired_interval_and_p_are_those_of_scipy():
    x, y = meters()
    theirs = stats.ttest_rel(x, y)

    found = paired_difference(x, y)

    assert found.p == pytest.approx(theirs.pvalue, rel=1e-9)
    assert (found.low, found.high) == pytest.approx(tuple(theirs.confidence_interval(0.95)), rel=1e-9)


def test_turning_signs_gives_what_scipy_gives_by_trying_all():
    x, y = (values[:9] for values in meters())
    theirs = stats.permutation_test((x - y,), np.mean, permutation_type="samples", n_resamples=np.inf)

    assert sign_flip_test(x - y) == pytest.approx(theirs.pvalue, abs=1e-12)


def test_turning_signs_of_ranks_is_wilcoxons_exact_test():
    differences = np.array([0.3, -0.8, 1.1, 2.4, -0.1, 1.9, 0.7, 3.0])
    ranks = np.sign(differences) * stats.rankdata(np.abs(differences))

    assert sign_flip_test(ranks) == pytest.approx(stats.wilcoxon(differences, method="exact").pvalue)


def test_holms_adjustment_is_that_of_statsmodels():
    p = [0.01, 0.04, 0.03, 0.005, 0.9]

    theirs = sm.stats.multipletests(p, method="holm")[1]

    assert holm(p) == pytest.approx(theirs.tolist())
