"""When the morning figures were back, and how that fits an estimated range."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from trainlog.load.observed_recovery import MorningAfter, Observed, morning_bounds, observed_recovery

mornings = st.lists(st.builds(MorningAfter, st.floats(0, 120), st.booleans()), max_size=6)


def test_a_first_morning_inside_the_band_bounds_the_hours_from_above_alone():
    assert observed_recovery([MorningAfter(14, True)]) == Observed(0, 14)


def test_a_morning_outside_and_the_next_inside_bound_them_from_both_sides():
    assert observed_recovery([MorningAfter(14, False), MorningAfter(38, True)]) == Observed(14, 38)


def test_figures_that_never_came_back_leave_the_end_open():
    assert observed_recovery([MorningAfter(14, False), MorningAfter(38, False)]) == Observed(38, math.inf)


def test_mornings_after_the_next_session_tell_of_that_one():
    seen = [MorningAfter(14, False), MorningAfter(38, True)]
    assert observed_recovery(seen, until=20) == Observed(14, math.inf)
    assert observed_recovery(seen, until=10) is None


def test_a_morning_before_the_end_of_the_session_tells_nothing_of_it():
    assert observed_recovery([MorningAfter(-3, True)]) is None


@given(mornings)
def test_the_order_of_mornings_does_not_matter(seen):
    distinct = list({one.hours: one for one in seen}.values())
    assert observed_recovery(distinct) == observed_recovery(distinct[::-1])


@given(mornings)
def test_what_was_not_back_yet_lies_before_what_was(seen):
    found = observed_recovery(seen)
    assert found is None or found.after <= found.by


@pytest.mark.parametrize(
    ("after", "by", "fit"),
    [(0, 14, "earlier"), (14, 38, "within"), (0, 30, "within"), (50, 62, "later"), (38, math.inf, "within")],
)
def test_an_observation_is_in_keeping_where_it_meets_the_range(after, by, fit):
    assert Observed(after, by).against(24, 48) == fit


def test_one_morning_is_usual_within_a_standard_deviation_of_those_before():
    before = np.random.default_rng(3).normal(4.0, 0.2, 40)
    before[::7] = np.nan
    low, high = morning_bounds(before)
    assert low == pytest.approx(np.nanmean(before) - np.nanstd(before, ddof=1))
    assert high == pytest.approx(np.nanmean(before) + np.nanstd(before, ddof=1))


def test_few_mornings_have_no_usual_bounds():
    assert morning_bounds(np.array([4.0, 4.1, np.nan])) is None
