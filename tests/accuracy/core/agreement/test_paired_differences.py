"""Paired differences over sessions: signs, order, few sessions, coverage, and variances."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from accuracy.core.agreement.paired_differences import holm, paired_difference, sign_flip_test
from accuracy.core.agreement.paired_variances import variance_ratio

FIGURES = arrays(float, st.tuples(st.just(2), st.integers(3, 9)), elements=st.floats(-30, 30, width=32))


@given(FIGURES)
def test_swapping_the_sensors_turns_the_sign(figures):
    one, other = paired_difference(*figures), paired_difference(*figures[::-1])

    assert one.difference == pytest.approx(-other.difference, abs=1e-9)
    assert (one.low, one.high) == pytest.approx((-other.high, -other.low), abs=1e-9)
    assert one.sign_flip_p == other.sign_flip_p


@given(FIGURES, st.randoms(use_true_random=False))
def test_the_order_of_sessions_changes_nothing(figures, chance):
    order = list(range(figures.shape[1]))
    chance.shuffle(order)

    assert paired_difference(*figures) == paired_difference(*figures[:, order])


@given(FIGURES)
def test_a_sensor_does_not_differ_from_itself(figures):
    found = paired_difference(figures[0], figures[0])

    assert (found.difference, found.low, found.high) == (0, 0, 0)
    assert (found.p, found.sign_flip_p) == (1, 1)


def test_below_three_sessions_there_is_a_difference_and_no_interval():
    found = paired_difference(np.array([3.0, 5.0]), np.array([2.0, 2.0]))

    assert found.difference == 2.0
    assert not found.has_interval
    assert math.isnan(found.p)
    assert math.isnan(found.sign_flip_p)


def test_a_session_without_the_figure_of_both_is_left_out():
    with_gap = paired_difference(np.array([1, 2, 4, np.nan, 3.0]), np.array([0, 1, 2, 7, np.nan]))

    assert with_gap == paired_difference(np.array([1, 2, 4.0]), np.array([0, 1, 2.0]))


def test_no_session_is_no_figure():
    found = paired_difference(np.array([]), np.array([]))

    assert found.sessions == 0
    assert math.isnan(found.difference)


def test_figures_of_unequally_many_sessions_are_refused():
    with pytest.raises(ValueError, match="each session"):
        paired_difference(np.ones(3), np.ones(4))


@pytest.mark.parametrize("sessions", [4, 8, 20])
def test_95_per_cent_intervals_hold_the_truth_about_95_times_in_a_hundred(sessions):
    chance = np.random.default_rng(7)
    held = []
    for _ in range(1000):
        easy = chance.normal(0, 3, sessions)
        found = paired_difference(
            5 + easy + chance.normal(0, 1, sessions), 4 + easy + chance.normal(0, 2, sessions)
        )
        held.append(found.low <= 1 <= found.high)

    assert 0.93 <= np.mean(held) <= 0.97


def test_intervals_of_skewed_differences_still_hold_the_truth_in_most_cases():
    chance = np.random.default_rng(8)
    held = []
    for _ in range(1000):
        found = paired_difference(chance.exponential(2, 10), chance.exponential(1, 10))
        held.append(found.low <= 1 <= found.high)

    assert 0.90 <= np.mean(held) <= 0.97


@pytest.mark.parametrize("sessions", [6, 16])
def test_turning_signs_rejects_no_more_than_one_in_twenty_without_a_difference(sessions):
    chance = np.random.default_rng(9)

    rejected = np.mean([sign_flip_test(chance.standard_t(3, sessions)) <= 0.05 for _ in range(300)])

    assert rejected <= 0.08


@pytest.mark.parametrize(("sessions", "least"), [(3, 0.25), (4, 0.125), (6, 0.03125)])
def test_few_sessions_can_say_only_so_much_by_turning_signs(sessions, least):
    assert sign_flip_test(np.linspace(1, 2, sessions)) == pytest.approx(least)


def test_more_looks_make_each_weaker_and_what_was_not_tested_is_no_look():
    assert holm([0.01, math.nan, 0.04])[0] == pytest.approx(0.02)
    assert math.isnan(holm([0.01, math.nan])[1])
    assert holm([0.01]) == [0.01]


@given(st.lists(st.floats(0, 1), min_size=1, max_size=8))
def test_adjusting_keeps_the_order_and_lowers_nothing(p):
    adjusted = holm(p)

    assert all(after >= before for before, after in zip(p, adjusted, strict=True))
    in_order = [after for _, after in sorted(zip(p, adjusted, strict=True))]
    assert in_order == sorted(in_order)


@given(FIGURES)
def test_swapping_the_sensors_turns_the_ratio_of_variances_over(figures):
    one, other = variance_ratio(*figures), variance_ratio(*figures[::-1])

    if one is None:
        assert other is None
    else:
        assert one.ratio == pytest.approx(1 / other.ratio, rel=1e-6)
        assert one.low == pytest.approx(1 / other.high, rel=1e-4)
        assert one.joint_p == pytest.approx(other.joint_p, abs=1e-9)


def test_values_that_do_not_vary_or_are_too_few_have_no_ratio():
    assert variance_ratio(np.ones(6), np.arange(6.0)) is None
    assert variance_ratio(np.arange(6.0), np.arange(6.0)) is None
    assert variance_ratio(np.arange(3.0), np.array([0, 2, 1.0])) is None


def test_intervals_of_the_ratio_of_variances_hold_it_about_95_times_in_a_hundred():
    chance = np.random.default_rng(10)
    held = []
    for _ in range(1000):
        shared = chance.normal(0, 1, 8)
        # Variances 1 + 3 and 1 + 1: in truth the ratio is 2.
        found = variance_ratio(shared + chance.normal(0, math.sqrt(3), 8), shared + chance.normal(0, 1, 8))
        held.append(found.low <= 2 <= found.high)

    assert 0.93 <= np.mean(held) <= 0.97
