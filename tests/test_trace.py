"""The grid of whole seconds on which everything else computes."""

from datetime import UTC, datetime, timedelta, timezone

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trainlog.trace import Trace, to_whole_seconds, window

START = datetime(2026, 3, 1, tzinfo=UTC)


def test_a_trace_ends_one_second_after_its_last_sample():
    trace = Trace(START, np.full(60, 120.0))
    assert trace.seconds == 60
    assert trace.end == START + timedelta(minutes=1)


@pytest.mark.parametrize(
    "start",
    [
        START.replace(microsecond=1),
        START.replace(tzinfo=None),
        START.astimezone(timezone(timedelta(hours=1))),
    ],
)
def test_a_trace_starts_at_a_whole_utc_second(start):
    with pytest.raises(ValueError, match="whole UTC second"):
        Trace(start, np.full(2, 120.0))


def test_an_unknown_channel_is_refused():
    with pytest.raises(ValueError, match="unknown channels"):
        Trace(START, np.full(2, 120.0), others={"mood": np.ones(2)})


def test_channels_of_different_length_are_refused():
    with pytest.raises(ValueError, match="as many seconds"):
        Trace(START, np.full(2, 120.0), others={"speed": np.ones(3)})


def test_an_rr_interval_without_a_time_is_refused():
    with pytest.raises(ValueError, match="one time"):
        Trace(START, np.full(2, 120.0), rr_ms=np.array([800.0]))


def test_a_window_beyond_the_signal_is_missing_there():
    np.testing.assert_array_equal(window(np.array([1.0, 2.0]), -1, 4), [np.nan, 1.0, 2.0, np.nan])


def test_a_window_is_a_copy():
    values = np.array([1.0, 2.0])
    window(values, 0, 2)[0] = 9.0
    assert values[0] == 1.0


def test_a_gap_of_thirty_seconds_is_bridged_in_a_straight_line():
    grid = np.arange(31.0)
    result = to_whole_seconds(np.array([0.0, 30.0]), np.array([100.0, 130.0]), grid)
    np.testing.assert_allclose(result, 100.0 + grid)


def test_a_longer_gap_is_missing_between_its_two_samples():
    result = to_whole_seconds(np.array([0.0, 31.0]), np.array([100.0, 130.0]), np.arange(32.0))
    assert result[[0, 31]].tolist() == [100.0, 130.0]
    assert np.isnan(result[1:31]).all()


def test_nothing_is_made_up_before_the_first_and_after_the_last_sample():
    result = to_whole_seconds(np.array([1.0, 2.0]), np.array([100.0, 101.0]), np.arange(4.0))
    np.testing.assert_array_equal(result, [np.nan, 100.0, 101.0, np.nan])


def test_a_single_sample_holds_its_own_second_alone():
    result = to_whole_seconds(np.array([1.0]), np.array([100.0]), np.arange(3.0))
    np.testing.assert_array_equal(result, [np.nan, 100.0, np.nan])


def test_no_samples_give_a_missing_signal():
    assert np.isnan(to_whole_seconds(np.empty(0), np.empty(0), np.arange(3.0))).all()


@settings(deadline=None, max_examples=50, derandomize=True)
@given(st.lists(st.floats(25, 250) | st.just(float("nan")), min_size=1, max_size=100))
def test_samples_on_whole_seconds_stay_as_they_are(rates):
    values = np.array(rates)
    result = to_whole_seconds(np.arange(float(len(values))), values, np.arange(float(len(values))))
    known = np.isfinite(values)
    np.testing.assert_array_equal(result[known], values[known])


@settings(deadline=None, max_examples=50, derandomize=True)
@given(st.lists(st.tuples(st.floats(0.1, 60), st.floats(25, 250)), min_size=1, max_size=40))
def test_whole_seconds_never_leave_the_range_of_the_samples(steps):
    times = np.cumsum([step for step, _ in steps])
    values = np.array([rate for _, rate in steps])
    result = to_whole_seconds(times, values, np.arange(0, times[-1] + 5))
    known = result[np.isfinite(result)]
    assert ((known >= values.min() - 1e-9) & (known <= values.max() + 1e-9)).all()
