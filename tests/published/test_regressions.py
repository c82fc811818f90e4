"""Deming and Passing-Bablok regression and the equivalence test against second implementations."""

import itertools
import math
import warnings

import numpy as np
import pingouin
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from accuracy.core.agreement.equivalence import equivalence_test
from accuracy.core.agreement.regression import deming, passing_bablok, passing_bablok_over_sessions

steadily = settings(derandomize=True, deadline=None, max_examples=25)
seeds = st.integers(0, 10_000)


def measured(seed, n=40):
    rng = np.random.default_rng(seed)
    true = rng.uniform(90, 180, n)
    return true + rng.normal(0, 3, n), 4 + 0.93 * true + rng.normal(0, 3, n)


def brute_force(x, y):
    """Passing and Bablok's shifted median, straight from the paper, with loops."""
    slopes = []
    for i, j in itertools.combinations(range(len(x)), 2):
        run, rise = x[j] - x[i], y[j] - y[i]
        if run == rise == 0:
            continue
        slope = rise / run if run else math.copysign(math.inf, rise)
        if slope != -1:
            slopes.append(slope)
    slopes.sort()
    offset, count = sum(slope < -1 for slope in slopes), len(slopes)
    if count % 2:
        slope = slopes[(count + 1) // 2 + offset - 1]
    else:
        slope = (slopes[count // 2 + offset - 1] + slopes[count // 2 + offset]) / 2
    reach = stats.norm.ppf(0.975) * math.sqrt(len(x) * (len(x) - 1) * (2 * len(x) + 5) / 18)
    first = round((count - reach) / 2)
    last = count - first + 1
    return slope, slopes[first + offset - 1], slopes[last + offset - 1]


@pytest.mark.parametrize("seed", range(4))
def test_orthogonal_regression_matches_scipys_orthogonal_distance_regression(seed):
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        odr = pytest.importorskip("scipy.odr")
        x, y = measured(seed)
        fit = odr.ODR(
            odr.RealData(x, y, sx=1.0, sy=1.0), odr.unilinear, beta0=[1.0, 0.0], sstol=1e-15, partol=1e-15
        ).run()
    line = deming(x, y)
    assert (line.slope, line.intercept) == pytest.approx(fit.beta, rel=1e-4)


def test_a_known_ratio_of_error_variances_matches_scipys_weights():
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        odr = pytest.importorskip("scipy.odr")
        x, y = measured(9)
        fit = odr.ODR(
            odr.RealData(x, y, sx=1.0, sy=2.0), odr.unilinear, beta0=[1.0, 0.0], sstol=1e-15, partol=1e-15
        ).run()
    assert deming(x, y, error_ratio=4.0).slope == pytest.approx(fit.beta[0], rel=1e-5)


def test_the_jackknife_of_deming_leaves_out_one_pair_at_a_time():
    x, y = measured(3, 12)
    left_out = [deming(np.delete(x, at), np.delete(y, at)).slope for at in range(12)]
    whole = deming(x, y)
    pseudo = 12 * whole.slope - 11 * np.array(left_out)
    reach = stats.t.ppf(0.975, 10) * pseudo.std(ddof=1) / math.sqrt(12)
    assert whole.slope_interval == pytest.approx((whole.slope - reach, whole.slope + reach), rel=1e-9)


def test_nineteen_in_twenty_intervals_of_deming_hold_the_true_slope():
    held = [
        line.slope_interval[0] <= 0.93 <= line.slope_interval[1]
        for line in (deming(*measured(seed)) for seed in range(300))
    ]
    assert 0.92 <= np.mean(held) <= 0.98


@pytest.mark.parametrize("seed", range(6))
def test_passing_bablok_matches_the_paper_worked_with_loops(seed):
    x, y = measured(seed, 25 + seed)
    line = passing_bablok(x, y)
    assert (line.slope, *line.slope_interval) == pytest.approx(brute_force(x, y), rel=1e-12)
    assert line.intercept == pytest.approx(np.median(y - line.slope * x))


def test_passing_bablok_of_whole_numbers_with_ties_matches_the_paper_worked_with_loops():
    x, y = (np.round(values / 5) * 5 for values in measured(7, 40))
    line = passing_bablok(x, y)
    assert (line.slope, *line.slope_interval) == pytest.approx(brute_force(x, y), rel=1e-12)


def test_nineteen_in_twenty_intervals_of_passing_bablok_hold_the_true_slope():
    held = [
        line.slope_interval[0] <= 0.93 <= line.slope_interval[1]
        for line in (passing_bablok(*measured(seed)) for seed in range(300))
    ]
    assert 0.91 <= np.mean(held) <= 0.99


def sessions_apart(seed, count=8, each=20):
    """Sessions with an offset and a slope of their own; slopes are 0.95 on average at 135 bpm."""
    rng = np.random.default_rng(seed)
    x = rng.uniform(100, 170, (count, each))
    slopes, offsets = rng.normal(0.95, 0.05, (count, 1)), rng.normal(0, 4, (count, 1))
    y = 135 + offsets + slopes * (x - 135) + rng.normal(0, 1, (count, each))
    return x.ravel(), y.ravel(), np.repeat(np.arange(count), each)


def test_passing_bablok_over_sessions_leaves_out_one_session_at_a_time():
    x, y, session = sessions_apart(1)
    line = passing_bablok_over_sessions(x, y, session)
    left_out = [passing_bablok(x[session != at], y[session != at]) for at in range(8)]
    for value, interval, others in (
        (line.slope, line.slope_interval, [one.slope for one in left_out]),
        (line.intercept, line.intercept_interval, [one.intercept for one in left_out]),
    ):
        reach = stats.t.ppf(0.975, 7) * math.sqrt(7 * np.var(others))
        assert interval == pytest.approx((value - reach, value + reach), rel=1e-9)
    assert line.slope == passing_bablok(x, y).slope


def test_passing_bablok_over_sessions_of_whole_numbers_with_ties_leaves_out_the_same():
    x, y, session = sessions_apart(2)
    x, y = np.round(x / 5) * 5, np.round(y / 5) * 5
    line = passing_bablok_over_sessions(x, y, session)
    slopes = [passing_bablok(x[session != at], y[session != at]).slope for at in range(8)]
    reach = stats.t.ppf(0.975, 7) * math.sqrt(7 * np.var(slopes))
    assert line.slope_interval == pytest.approx((line.slope - reach, line.slope + reach), rel=1e-9)


def test_nineteen_in_twenty_intervals_over_sessions_hold_the_slope_where_those_over_pairs_are_too_narrow():
    lines = [
        (passing_bablok_over_sessions(x, y, session), passing_bablok(x, y))
        for x, y, session in map(sessions_apart, range(200))
    ]
    slope = np.median([line.slope for line, _ in lines])
    held = np.array(
        [[low <= slope <= high for low, high in (a.slope_interval, b.slope_interval)] for a, b in lines]
    )
    over_sessions, over_pairs = held.mean(axis=0)
    assert 0.91 <= over_sessions <= 0.99
    assert over_pairs < 0.85


def test_two_sessions_give_passing_bablok_no_interval():
    line = passing_bablok_over_sessions(*sessions_apart(3, count=2))
    assert math.isfinite(line.slope)
    assert np.isnan(line.slope_interval).all()


def test_a_few_wild_points_hardly_move_passing_bablok():
    x, y = measured(1, 60)
    before = passing_bablok(x, y).slope
    y[:4] = 40
    assert passing_bablok(x, y).slope == pytest.approx(before, abs=0.08)


def test_too_many_pairs_for_passing_bablok_are_refused():
    with pytest.raises(ValueError, match="longer epochs"):
        passing_bablok(np.arange(700.0), np.arange(700.0))


@pytest.mark.parametrize("fit", [deming, passing_bablok])
def test_two_pairs_make_no_regression(fit):
    with pytest.raises(ValueError, match="three pairs"):
        fit(np.arange(2.0), np.arange(2.0))


@steadily
@given(seeds, st.sampled_from([deming, passing_bablok]))
def test_swapping_the_sensors_inverts_the_slope(seed, fit):
    x, y = measured(seed)
    assert fit(x, y).slope * fit(y, x).slope == pytest.approx(1, abs=2e-3)


@steadily
@given(seeds, st.sampled_from([deming, passing_bablok]), st.floats(-50, 50), st.floats(0.5, 2))
def test_shift_and_scale_of_both_leave_the_slope(seed, fit, shift, scale):
    x, y = measured(seed)
    assert fit(scale * x + shift, scale * y + shift).slope == pytest.approx(fit(x, y).slope, rel=1e-6)


@pytest.mark.parametrize(("middle", "margin"), [(0.5, 5), (4, 5), (-3, 2), (0, 1)])
def test_two_one_sided_tests_match_a_second_implementation(middle, margin):
    rng = np.random.default_rng(4)
    x = rng.normal(140, 10, 30)
    y = x + rng.normal(middle, 4, 30)
    theirs = pingouin.tost(y, x, bound=margin, paired=True).iloc[0]
    ours = equivalence_test(y - x, margin=margin)
    assert ours.p == pytest.approx(theirs.filter(like="p").iloc[0], rel=1e-9)
    assert ours.equivalent == (ours.p < 0.05)


@steadily
@given(seeds, st.floats(0.5, 10))
def test_equivalence_is_an_interval_inside_the_margin(seed, margin):
    differences = np.random.default_rng(seed).normal(1, 3, 20)
    outcome = equivalence_test(differences, margin=margin)
    low, high = outcome.interval
    assert outcome.equivalent == (-margin < low and high < margin)


def test_differences_without_spread_are_equivalent_exactly_inside_the_margin():
    assert equivalence_test(np.full(5, 2.0), margin=3).equivalent
    assert not equivalence_test(np.full(5, 2.0), margin=2).equivalent


def test_a_margin_of_nothing_is_refused():
    with pytest.raises(ValueError, match="positive"):
        equivalence_test(np.arange(3.0), margin=0)
