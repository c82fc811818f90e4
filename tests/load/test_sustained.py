import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from trainlog.load.sustained import HIGHEST, highest_sustained, is_odd, peak_place

RATES = st.lists(st.one_of(st.floats(20, 260), st.just(float("nan"))), max_size=60).map(
    lambda values: np.array(values, dtype=float)
)


def test_the_highest_rate_held_is_the_lowest_of_its_stretch():
    rates = np.array([150.0, 171, 170, 172, 190, 160])
    assert highest_sustained(rates, 3) == 170
    assert highest_sustained(rates, 1) == 190
    assert peak_place(rates, 3) == 1


def test_a_gap_breaks_what_is_held():
    assert highest_sustained(np.array([180.0, 180, np.nan, 180, 150, 150]), 3) == 150


def test_what_is_out_of_range_is_skipped():
    rates = np.array([150.0] * 40 + [HIGHEST + 1] * 40)
    assert highest_sustained(rates, 30) == 150


def test_a_recording_too_short_holds_nothing():
    assert highest_sustained(np.full(29, 180.0), 30) is None
    assert highest_sustained(np.empty(0), 30) is None


def test_a_rate_is_held_for_at_least_a_second():
    with pytest.raises(ValueError, match="at least one second"):
        highest_sustained(np.full(10, 150.0), 0)


@given(RATES, st.integers(1, 20))
def test_it_equals_a_search_of_every_stretch(rates, seconds):
    stretches = [rates[i : i + seconds] for i in range(len(rates) - seconds + 1)]
    sound = [one.min() for one in stretches if np.all((one >= 25) & (one <= HIGHEST))]
    assert highest_sustained(rates, seconds) == (max(sound) if sound else None)


@given(RATES, st.integers(1, 20))
def test_holding_longer_never_reaches_higher(rates, seconds):
    shorter, longer = highest_sustained(rates, seconds), highest_sustained(rates, seconds + 1)
    assert longer is None or (shorter is not None and longer <= shorter)


@pytest.mark.parametrize(("rate", "odd"), [(193.0, False), (193.1, True), (None, False)])
def test_a_rate_is_odd_above_the_maximum_by_more_than_its_standard_error(rate, odd):
    assert is_odd(rate, 190.0, 3.0) is odd
