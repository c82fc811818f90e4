import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from trainlog.load.settled import goes_beyond, settled_resting

GONE = np.nan


def test_two_weeks_of_higher_mornings_are_a_settled_change():
    settled = settled_resting(np.array([54.0, 55, 56, 54, 55, 56, 55, 55]), 50.0)
    assert (settled.mean, settled.mornings) == (55, 8)
    assert settled.error == pytest.approx(0.2673, abs=5e-5)


def test_six_mornings_are_too_few():
    assert settled_resting(np.array([60.0] * 6 + [GONE] * 8), 50.0) is None
    assert settled_resting(np.array([60.0] * 7 + [GONE] * 7), 50.0).mornings == 7


def test_mornings_before_the_last_fourteen_do_not_count():
    assert settled_resting(np.array([60.0] * 10 + [50.0] * 14), 50.0) is None


def test_three_bpm_are_no_change():
    assert settled_resting(np.full(10, 53.0), 50.0) is None
    assert settled_resting(np.full(10, 53.5), 50.0) is not None


def test_mornings_that_scatter_as_widely_as_they_differ_have_not_settled():
    scattered = np.array([45.0, 70, 46, 69, 44, 71, 45])
    assert abs(scattered.mean() - 50) > 3
    assert settled_resting(scattered, 50.0) is None


def test_a_lower_rate_settles_too():
    assert settled_resting(np.full(10, 44.0), 50.0).mean == 44


@given(st.lists(st.floats(30, 110), min_size=7, max_size=14), st.floats(35, 100), st.floats(-5, 5))
def test_only_the_difference_from_what_is_entered_counts(rates, entered, shift):
    mornings = np.array(rates)
    change = abs(mornings.mean() - entered)
    error = mornings.std(ddof=1) / np.sqrt(len(mornings))
    if min(abs(change - 3), abs(change - 2 * error)) < 1e-6:
        return
    moved = settled_resting(mornings + shift, entered + shift)
    assert (settled_resting(mornings, entered) is None) == (moved is None)


@pytest.mark.parametrize(
    ("value", "declined", "again"),
    [(195, 195, False), (196.9, 195, False), (197, 195, True), (193, 195, False), (186, 195, True)],
)
def test_a_declined_figure_comes_again_two_bpm_beyond_or_on_the_other_side(value, declined, again):
    assert goes_beyond(value, declined, 190.0) is again
