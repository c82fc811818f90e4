import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays

from trainlog.load.draws import DRAWS, standard_normals
from trainlog.load.trend import (
    TrendDays,
    exponentially_weighted,
    ratio,
    rolling_mean,
    smoothing,
    trend,
    updated,
)

bounded = settings(derandomize=True, deadline=None, max_examples=50)
NAMES = ("acute", "chronic", "slow", "fast")


def spans(least=1, most=60):
    shape = st.tuples(st.integers(least, most), st.just(4))
    return arrays.arrays(float, shape, elements=st.floats(0, 500))


def identical(one, other):
    return all(np.array_equal(getattr(one, name), getattr(other, name)) for name in NAMES)


@bounded
@given(spans(least=2), st.data())
def test_continuing_from_any_day_gives_the_whole_to_the_bit(daily, data):
    cut = data.draw(st.integers(1, len(daily) - 1))
    whole, first = trend(daily), trend(daily[:cut])
    later = trend(daily[cut:], before=first.after(-1))
    assert all(np.array_equal(getattr(whole, name)[cut:], getattr(later, name)) for name in NAMES)


@bounded
@given(spans(), st.floats(0, 500), st.data())
def test_a_changed_workout_updates_to_what_the_whole_span_gives(daily, load, data):
    day = data.draw(st.integers(0, len(daily) - 1))
    old = trend(daily)
    changed = daily.copy()
    changed[day] = load
    assert identical(updated(old, changed, day), trend(changed))


def test_an_update_reads_only_the_days_from_the_change_on():
    daily = np.full((10, 4), 100.0)
    old = trend(daily)
    unreadable_before = daily.copy()
    unreadable_before[:6] = np.nan
    unreadable_before[6] = 50.0
    daily[6] = 50.0
    assert identical(updated(old, unreadable_before, 6), trend(daily))


def test_a_new_day_is_appended_by_an_update():
    daily = np.arange(40.0).reshape(10, 4)
    assert identical(updated(trend(daily[:9]), daily, 9), trend(daily))


def test_an_update_that_leaves_a_gap_is_refused():
    daily = np.full((10, 4), 100.0)
    with pytest.raises(ValueError, match="follow it at once"):
        updated(trend(daily[:5]), daily, 6)


def test_other_spans_are_kept_through_an_update():
    days, daily = TrendDays(acute=5, chronic=42, slow=42, fast=7), np.arange(40.0).reshape(10, 4)
    assert identical(updated(trend(daily, days), daily, 4, days), trend(daily, days))


@bounded
@given(st.floats(0, 500), st.integers(1, 60))
def test_equal_days_average_to_their_own_load(load, count):
    daily = np.full((count, 3), load)
    assert exponentially_weighted(daily, 7) == pytest.approx(daily)


@bounded
@given(spans(), st.floats(1, 60))
def test_an_average_lies_within_the_loads_it_averages(daily, days):
    averages = exponentially_weighted(daily, days)
    assert np.all(averages <= daily.max(axis=0) + 1e-9)
    assert np.all(averages >= daily.min(axis=0) - 1e-9)


@bounded
@given(spans(), st.floats(0, 100))
def test_a_harder_day_never_lowers_an_average_or_a_response(daily, more):
    harder = daily.copy()
    harder[0] += more
    for name in NAMES:
        assert np.all(getattr(trend(harder), name) >= getattr(trend(daily), name) - 1e-9)


def test_an_average_of_one_day_is_the_day():
    daily = np.arange(12.0).reshape(6, 2)
    assert np.array_equal(exponentially_weighted(daily, 1), daily)
    assert np.array_equal(rolling_mean(daily, 1), daily)


def test_a_rolling_mean_waits_until_its_window_is_full():
    means = rolling_mean(np.full((10, 2), 50.0), 7)
    assert np.isnan(means[:6]).all()
    assert means[6:] == pytest.approx(50)


def test_a_span_shorter_than_the_window_has_no_rolling_mean():
    assert np.isnan(rolling_mean(np.full((3, 2), 50.0), 7)).all()


@bounded
@given(spans(least=8), st.data())
def test_a_rolling_mean_can_be_continued_from_its_window(daily, data):
    cut = data.draw(st.integers(7, len(daily) - 1))
    assert np.array_equal(rolling_mean(daily, 7)[cut:], rolling_mean(daily[cut - 6 :], 7)[6:])


def test_draws_of_an_unknown_day_carry_its_doubt_on():
    daily = np.full((14, DRAWS), 100.0)
    daily[3] = np.maximum(100 + 50 * standard_normals("unknown"), 0)
    spread = trend(daily).acute.std(axis=1)
    assert np.all(spread[:3] == 0)
    assert np.all(np.diff(spread[3:]) < 0)
    assert spread[-1] > 0


@pytest.mark.parametrize("bad", [np.nan, np.inf])
def test_a_day_that_is_not_a_number_is_refused(bad):
    daily = np.full((7, 4), 100.0)
    daily[3, 2] = bad
    with pytest.raises(ValueError, match="unknown day is given as draws"):
        trend(daily)
    with pytest.raises(ValueError, match="unknown day is given as draws"):
        rolling_mean(daily, 7)


def test_there_is_no_ratio_to_no_chronic_load():
    assert np.isnan(ratio(np.array([0.0, 50.0]), np.zeros(2))).all()


def test_a_ratio_is_taken_draw_by_draw():
    shared = 1 + 0.2 * standard_normals("shared")
    assert ratio(120 * shared, 100 * shared) == pytest.approx(np.full(DRAWS, 1.2))


@pytest.mark.parametrize("days", [0.0, -7.0, float("nan")])
def test_spans_without_a_day_are_refused(days):
    with pytest.raises(ValueError, match="at least one day"):
        smoothing(days)


def test_a_window_without_a_day_is_refused():
    with pytest.raises(ValueError, match="at least one day"):
        rolling_mean(np.zeros((2, 2)), 0)
