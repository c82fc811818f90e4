import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays

from trainlog.load.trimp import MEN, RATES, WOMEN, histogram, histogram_load, load_per_minute, trimp

rates = arrays.arrays(float, st.integers(1, 300), elements=st.floats(30, 230))
bounded = settings(derandomize=True, deadline=None, max_examples=50)


def test_missing_seconds_add_nothing_by_themselves():
    half_missing = np.concatenate([np.full(600, 150.0), np.full(600, np.nan)])
    assert trimp(half_missing, 50, 190, MEN) == pytest.approx(trimp(np.full(600, 150.0), 50, 190, MEN))


def test_a_recording_of_nothing_has_no_load():
    assert trimp(np.full(60, np.nan), 50, 190, MEN) == 0
    assert trimp(np.empty(0), 50, 190, MEN) == 0


def test_a_rate_below_resting_counts_as_resting():
    assert trimp(np.full(60, 40.0), 50, 190, MEN) == 0


def test_a_rate_above_the_entered_maximum_is_not_cut():
    assert trimp(np.full(60, 195.0), 50, 190, MEN) > trimp(np.full(60, 190.0), 50, 190, MEN)


@pytest.mark.parametrize("maximum", [50.0, 45.0])
def test_a_maximum_that_does_not_exceed_resting_is_refused(maximum):
    with pytest.raises(ValueError, match="must exceed"):
        trimp(np.full(60, 120.0), 50, maximum, MEN)


def test_a_single_bad_draw_of_the_physiology_is_refused():
    with pytest.raises(ValueError, match="must exceed"):
        load_per_minute(RATES, np.array([[50.0], [60.0]]), np.array([[190.0], [55.0]]), MEN)


@bounded
@given(rates, st.permutations(range(5)))
def test_the_order_of_seconds_does_not_matter(heart_rate, order):
    pieces = np.array_split(heart_rate, 5)
    shuffled = np.concatenate([pieces[i] for i in order])
    assert trimp(shuffled, 50, 240, MEN) == pytest.approx(trimp(heart_rate, 50, 240, MEN))


@bounded
@given(rates, st.floats(0.1, 20))
def test_a_higher_heart_rate_never_weighs_less(heart_rate, more):
    assert trimp(heart_rate + more, 50, 240, WOMEN) >= trimp(heart_rate, 50, 240, WOMEN)


@bounded
@given(rates)
def test_a_histogram_keeps_the_seconds_and_the_mean(heart_rate):
    seconds = histogram(heart_rate)
    assert seconds.sum() == pytest.approx(len(heart_rate))
    assert seconds @ RATES == pytest.approx(heart_rate.sum())


@bounded
@given(rates)
def test_the_load_of_a_histogram_is_close_to_that_of_the_trace(heart_rate):
    from_histogram = histogram_load(histogram(heart_rate), load_per_minute(RATES, 50, 190, MEN))
    # Between two whole rates a straight line stands for the curve, at most 0.0003 a minute above it,
    # and at the resting rate, where the curve has its corner, 0.0012.
    excess = from_histogram - trimp(heart_rate, 50, 190, MEN)
    assert -1e-9 <= excess <= 0.0013 * len(heart_rate) / 60


def test_whole_rates_make_a_histogram_with_exactly_the_load_of_the_trace():
    heart_rate = np.repeat(np.arange(60.0, 190.0), 7)
    from_histogram = histogram_load(histogram(heart_rate), load_per_minute(RATES, 50, 190, MEN))
    assert from_histogram == pytest.approx(trimp(heart_rate, 50, 190, MEN), rel=1e-12)


def test_a_histogram_leaves_out_missing_seconds():
    assert histogram(np.array([120.0, np.nan, 120.0])).sum() == 2


def test_many_draws_of_the_physiology_give_as_many_loads():
    resting = np.array([[48.0], [50.0], [52.0]])
    loads = histogram_load(histogram(np.full(600, 150.0)), load_per_minute(RATES, resting, 190.0, MEN))
    assert loads.shape == (3,)
    assert np.all(np.diff(loads) < 0)
