import json
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from accuracy.core.agreement import pair_agreement as agreement

steadily = settings(derandomize=True, deadline=None, max_examples=50)
rates = st.floats(40, 220).map(lambda value: round(value, 1))
pairs = hnp.arrays(float, st.tuples(st.just(2), st.integers(3, 200)), elements=rates)

OF_ANY_ORDER = [
    "bias",
    "sd",
    "lower_limit",
    "upper_limit",
    "mean_absolute_error",
    "root_mean_squared_error",
    "mean_absolute_percentage_error",
    "pearson_r",
    "concordance",
    "share_within_5_bpm",
    "share_within_10_percent",
    "share_within_either",
    "icc_1_1",
    "icc_2_1",
    "icc_3_1",
]


def wavy(seconds=600):
    return 130 + 20 * np.sin(np.arange(seconds) / 40)


def close(first, second):
    return {
        name: pytest.approx(value, abs=1e-6, nan_ok=True) if isinstance(value, float) else value
        for name, value in first.as_dict().items()
    } == second.as_dict()


def test_a_sensor_that_reads_three_high_has_a_bias_of_plus_three():
    figures = agreement.agree(wavy(), wavy() + 3)
    assert figures.bias == pytest.approx(3)
    assert figures.sd == pytest.approx(0, abs=1e-9)
    assert figures.mean_absolute_error == pytest.approx(3)
    assert figures.root_mean_squared_error == pytest.approx(3)
    assert figures.pearson_r == pytest.approx(1)


def test_percentage_error_divides_by_the_reference():
    assert agreement.mean_absolute_percentage_error(np.array([100.0, 200.0]), np.array([110.0, 180.0])) == 10


def test_the_tolerance_is_five_bpm_up_to_fifty_and_ten_percent_above():
    """10% or 5 bpm, whichever is greater: attributed to ANSI/AAMI EC13, from memory; figures by hand."""
    reference = np.array([40.0, 50.0, 60.0, 100.0, 150.0, 200.0])
    tolerance = np.array([5.0, 5.0, 6.0, 10.0, 15.0, 20.0])
    assert agreement.share_within_either(reference, reference + tolerance) == 1
    assert agreement.share_within_either(reference, reference - tolerance) == 1
    assert agreement.share_within_either(reference, reference + tolerance + 0.01) == 0


def test_shares_count_the_limit_itself_as_inside():
    assert agreement.share_within_bpm(np.array([-5.0, 5.0, 5.1, 0.0])) == 0.75
    assert agreement.share_within_percent(np.array([100.0, 100.0]), np.array([110.0, 110.5])) == 0.5


def test_lock_on_is_the_first_second_of_thirty_close_ones():
    reference = np.full(300, 120.0)
    tested = reference.copy()
    tested[:80] = 80
    tested[100] = 80
    assert agreement.lock_on_time(reference, tested) == 101


def test_a_gap_interrupts_locking_on():
    reference = np.full(100, 120.0)
    tested = reference.copy()
    tested[20] = np.nan
    assert agreement.lock_on_time(reference, tested) == 21


def test_a_sensor_that_never_comes_close_has_no_lock_on_time():
    assert agreement.lock_on_time(np.full(300, 150.0), np.full(300, 90.0)) is None
    assert agreement.lock_on_time(np.full(29, 150.0), np.full(29, 150.0)) is None


def test_a_constant_trace_has_no_correlation_and_raises_no_warning():
    figures = agreement.agree(np.full(60, 120.0), np.full(60, 120.0))
    assert math.isnan(figures.pearson_r)
    assert math.isnan(figures.concordance)


def test_figures_become_plain_json():
    figures = agreement.agree(np.full(60, 120.0), np.full(60, 120.0)).as_dict()
    assert json.loads(json.dumps(figures, allow_nan=False))["pearson_r"] is None


@pytest.mark.parametrize("known", [0, 1])
def test_fewer_than_two_common_seconds_are_refused(known):
    reference = np.full(10, np.nan)
    reference[:known] = 100
    with pytest.raises(ValueError, match="two common seconds"):
        agreement.agree(reference, np.full(10, 100.0))


def test_traces_of_different_length_are_refused():
    with pytest.raises(ValueError, match="as many seconds"):
        agreement.agree(wavy(10), wavy(11))


def test_a_reference_of_nothing_is_refused():
    with pytest.raises(ValueError, match="positive"):
        agreement.mean_absolute_percentage_error(np.array([0.0, 100.0]), np.array([90.0, 100.0]))


def test_one_group_gives_no_repeated_measures_limits():
    with pytest.raises(ValueError, match="two groups"):
        agreement.repeated_measures_limits(np.arange(4.0), np.zeros(4))


@steadily
@given(pairs)
def test_swapping_the_traces_changes_the_sign_of_the_bias_and_keeps_the_symmetric_figures(pair):
    there, back = agreement.agree(*pair), agreement.agree(*pair[::-1])
    assert there.bias == pytest.approx(-back.bias)
    assert there.lower_limit == pytest.approx(-back.upper_limit)
    assert there.mean_absolute_error == pytest.approx(back.mean_absolute_error)
    assert there.concordance == pytest.approx(back.concordance, abs=1e-9, nan_ok=True)


@steadily
@given(pairs, st.integers(-20, 60))
def test_raising_both_traces_keeps_every_difference_figure(pair, offset):
    before, after = agreement.agree(*pair), agreement.agree(*(pair + offset + 20.0))
    assert after.bias == pytest.approx(before.bias, abs=1e-9)
    assert after.sd == pytest.approx(before.sd, abs=1e-9)
    assert after.concordance == pytest.approx(before.concordance, abs=1e-6, nan_ok=True)


@steadily
@given(pairs, st.integers(1, 30))
def test_seconds_missing_in_one_trace_at_the_end_change_nothing(pair, missing):
    longer = np.concatenate([pair, np.full((2, missing), 100.0)], axis=1)
    longer[1, -missing:] = np.nan
    assert close(agreement.agree(*pair), agreement.agree(*longer))


@steadily
@given(pairs, st.randoms(use_true_random=False))
def test_the_order_of_seconds_does_not_matter_to_figures_that_know_no_time(pair, random):
    order = list(range(pair.shape[1]))
    random.shuffle(order)
    before, after = agreement.agree(*pair).as_dict(), agreement.agree(*pair[:, order]).as_dict()
    for name in OF_ANY_ORDER:
        assert after[name] == pytest.approx(before[name], abs=1e-6)


@steadily
@given(pairs)
def test_concordance_never_exceeds_correlation_in_size(pair):
    figures = agreement.agree(*pair)
    if not math.isnan(figures.pearson_r):
        assert abs(figures.concordance) <= abs(figures.pearson_r) + 1e-9
