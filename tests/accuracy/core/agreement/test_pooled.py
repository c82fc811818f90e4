import json
import math

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from accuracy.core.agreement import pair_agreement as agreement
from accuracy.core.agreement.concordance import intraclass_correlations
from accuracy.core.agreement.limits import repeated_measures_limits
from accuracy.core.agreement.pooled import UNITS, pool
from accuracy.core.agreement.regression import deming, repeated_measures_correlation
from accuracy.core.agreement.regression_limits import regression_limits

steadily = settings(derandomize=True, deadline=None, max_examples=20)


def made_session(rng, seconds=300, shift=0.0):
    reference = 140 + 20 * np.sin(np.arange(seconds) / rng.uniform(20, 60)) + rng.normal(0, 2, seconds)
    return reference, 0.95 * reference + 7 + shift + rng.normal(0, 3, seconds)


def made_sessions(seed=0, count=8, between=4.0):
    rng = np.random.default_rng(seed)
    return [made_session(rng, int(rng.integers(200, 500)), rng.normal(0, between)) for _ in range(count)]


def together(pairs):
    x, y = (np.concatenate([pair[side] for pair in pairs]) for side in (0, 1))
    return x, y, np.repeat(np.arange(len(pairs)), [len(pair[0]) for pair in pairs])


def values_of(pooled):
    return {name: figure.value for name, figure in pooled.figures.items()}


def test_every_pooled_figure_is_that_of_all_epochs_together():
    pairs = made_sessions()
    x, y, session = together(pairs)
    values, limits = values_of(pool(pairs)), repeated_measures_limits(y - x, session)
    plain = agreement.agree(x, y)
    expected = {
        "bias": plain.bias,
        "sd": limits.sd,
        "between_sd": limits.between_sd,
        "within_sd": limits.within_sd,
        "lower_limit": limits.lower,
        "upper_limit": limits.upper,
        "mean_absolute_error": plain.mean_absolute_error,
        "root_mean_squared_error": plain.root_mean_squared_error,
        "mean_absolute_percentage_error": plain.mean_absolute_percentage_error,
        "share_within_5_bpm": plain.share_within_5_bpm,
        "share_within_10_percent": plain.share_within_10_percent,
        "share_within_either": plain.share_within_either,
        "pearson_r": plain.pearson_r,
        "concordance": plain.concordance,
        "repeated_measures_r": repeated_measures_correlation(x, y, session).r,
        "deming_slope": deming(x, y).slope,
        "regression_slope": regression_limits(x, y).slope,
        "least_products_slope": y.std() / x.std(),
        "reference_mean": x.mean(),
        "reference_sd": x.std(ddof=1),
        "tested_mean": y.mean(),
        "tested_sd": y.std(ddof=1),
        **intraclass_correlations(np.column_stack([x, y])).as_dict(),
    }
    assert values == pytest.approx(expected, rel=1e-8)


def test_regression_limits_are_those_of_all_epochs_together():
    pairs = made_sessions(1)
    x, y, _ = together(pairs)
    ours, expected = pool(pairs).regression_limits, regression_limits(x, y)
    mean = np.array([120.0, 160.0])
    assert np.array(ours.at(mean)) == pytest.approx(np.array(expected.at(mean)), rel=1e-8)
    assert (ours.lowest, ours.highest) == (expected.lowest, expected.highest)


def test_sessions_that_differ_make_intervals_far_wider_than_seconds_would():
    pairs = made_sessions(2, between=6)
    x, y, _ = together(pairs)
    figure = pool(pairs).figures["bias"]
    naive = agreement.limits_of_agreement(y - x).bias_interval
    assert figure.high - figure.low > 5 * (naive[1] - naive[0])


def test_nineteen_in_twenty_intervals_over_sessions_hold_the_true_bias_and_limit():
    """Sessions' biases normal around 2 with SD 3, within SD 4; ten sessions; 95% aimed at."""
    held = {"bias": [], "upper_limit": []}
    true = {"bias": 2.0, "upper_limit": 2 + 1.96 * 5}
    for seed in range(200):
        rng = np.random.default_rng(seed)
        pairs = []
        for _ in range(10):
            x = rng.uniform(100, 180, 120)
            pairs.append((x, x + rng.normal(2, 3) + rng.normal(0, 4, 120)))
        figures = pool(pairs).figures
        for name, hits in held.items():
            hits.append(figures[name].low <= true[name] <= figures[name].high)
    assert 0.91 <= np.mean(held["bias"]) <= 0.99
    assert 0.88 <= np.mean(held["upper_limit"]) <= 0.99


def test_two_sessions_have_figures_and_no_intervals():
    pooled = pool(made_sessions(3, count=2))
    assert all(math.isnan(figure.low) for figure in pooled.figures.values())
    assert pooled.equivalence is not None


def test_one_session_has_plain_limits_and_nothing_between_sessions():
    pairs = made_sessions(4, count=1)
    pooled, plain = pool(pairs), agreement.agree(*pairs[0])
    assert pooled.figures["lower_limit"].value == pytest.approx(plain.lower_limit)
    assert math.isnan(pooled.figures["between_sd"].value)
    assert pooled.equivalence is None


def test_equivalence_is_tested_on_the_sessions_means():
    pooled = pool(made_sessions(5, count=6, between=0.2), margin=5)
    assert pooled.equivalence.equivalent
    assert len(pooled.session_biases) == 6
    assert pooled.equivalence.interval[0] < pooled.session_biases.mean() < pooled.equivalence.interval[1]


def test_a_session_without_common_seconds_is_left_out_and_costs_availability():
    pairs = made_sessions(6, count=4)
    empty = (pairs[0][0], np.full(len(pairs[0][0]), np.nan))
    pooled = pool([*pairs, empty])
    seconds = sum(len(x) for x, _ in pairs)
    assert pooled.sessions == 4
    assert pooled.availability == pytest.approx(seconds / (seconds + len(empty[0])))


def test_longer_epochs_are_fewer_and_quieter():
    pairs = made_sessions(7)
    by_second, by_half_minute = pool(pairs), pool(pairs, epoch_seconds=30)
    assert by_half_minute.epoch_seconds == 30
    assert by_half_minute.epochs < by_second.epochs / 25
    assert by_half_minute.figures["within_sd"].value < by_second.figures["within_sd"].value


def test_no_session_at_all_is_refused():
    with pytest.raises(ValueError, match="two common epochs"):
        pool([])


def test_a_reference_of_nothing_is_refused():
    with pytest.raises(ValueError, match="positive"):
        pool([(np.zeros(10), np.ones(10))])


def test_pooled_figures_become_json_and_rows_with_units():
    pooled = pool(made_sessions(8))
    assert set(json.loads(json.dumps(pooled.as_dict(), allow_nan=False))) <= set(UNITS)
    table = pd.DataFrame(pooled.rows())
    assert list(table.columns) == ["figure", "unit", "value", "low", "high"]
    assert (table["low"] <= table["value"] + 1e-12).all()
    assert table["unit"].notna().all()


@steadily
@given(st.integers(0, 500), st.randoms(use_true_random=False))
def test_the_order_of_sessions_does_not_matter(seed, random):
    pairs = made_sessions(seed, count=5)
    other = pairs.copy()
    random.shuffle(other)
    before, after = pool(pairs), pool(other)
    for name, figure in before.figures.items():
        again = after.figures[name]
        assert [again.value, again.low, again.high] == pytest.approx(
            [figure.value, figure.low, figure.high], rel=1e-7
        )
    assert after.passing_bablok.slope == pytest.approx(before.passing_bablok.slope, rel=1e-9)
    assert after.passing_bablok.slope_interval == pytest.approx(
        before.passing_bablok.slope_interval, rel=1e-9
    )


def test_the_interval_of_pooled_ranks_grows_with_the_spread_between_sessions():
    alike, apart = (pool(made_sessions(3, between=between)).passing_bablok for between in (0.5, 12.0))
    assert np.ptp(alike.slope_interval) < np.ptp(apart.slope_interval)


@steadily
@given(st.integers(0, 500), st.integers(1, 200))
def test_missing_seconds_add_nothing_but_cost_availability(seed, missing):
    pairs = made_sessions(seed, count=4)
    longer = [
        (np.concatenate([x, np.full(missing, 100.0)]), np.concatenate([y, np.full(missing, np.nan)]))
        for x, y in pairs
    ]
    before, after = pool(pairs), pool(longer)
    assert values_of(after) == pytest.approx(values_of(before), rel=1e-9)
    assert after.availability < before.availability == 1


@steadily
@given(st.integers(0, 500))
def test_swapping_the_sensors_mirrors_the_limits_and_keeps_the_likeness(seed):
    pairs = made_sessions(seed, count=4)
    there, back = values_of(pool(pairs)), values_of(pool([(y, x) for x, y in pairs]))
    assert there["bias"] == pytest.approx(-back["bias"])
    assert there["lower_limit"] == pytest.approx(-back["upper_limit"])
    for name in ("concordance", "pearson_r", "repeated_measures_r", "icc_2_1", "icc_3_1", "within_sd"):
        assert there[name] == pytest.approx(back[name], rel=1e-7)
    assert there["deming_slope"] == pytest.approx(1 / back["deming_slope"], rel=1e-7)


@steadily
@given(st.integers(0, 500), st.floats(-40, 40))
def test_raising_both_sensors_keeps_what_knows_differences_only(seed, by):
    pairs = made_sessions(seed, count=4)
    before, after = values_of(pool(pairs)), values_of(pool([(x + by, y + by) for x, y in pairs]))
    for name in (
        "bias",
        "sd",
        "lower_limit",
        "mean_absolute_error",
        "concordance",
        "icc_2_1",
        "deming_slope",
    ):
        assert after[name] == pytest.approx(before[name], rel=1e-6, abs=1e-9)


@steadily
@given(st.integers(0, 500), st.floats(0.5, 1.5))
def test_scaling_both_sensors_scales_every_bpm(seed, by):
    pairs = made_sessions(seed, count=4)
    before, after = values_of(pool(pairs)), values_of(pool([(x * by, y * by) for x, y in pairs]))
    for name in ("bias", "sd", "mean_absolute_error", "root_mean_squared_error"):
        assert after[name] == pytest.approx(by * before[name], rel=1e-6, abs=1e-9)
    for name in ("pearson_r", "concordance", "mean_absolute_percentage_error", "deming_slope"):
        assert after[name] == pytest.approx(before[name], rel=1e-6)
