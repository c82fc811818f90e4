"""Seconds of a wrist trace by state."""

import io

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from accuracy.core.traces.artefacts import Flags, Reason
from accuracy.core.traces.states import (
    AT_START,
    AT_STEP_RATE,
    NOT_FLAGGED,
    OTHERWISE,
    RATE_STEP,
    as_bytes,
    from_bytes,
    states_of,
)


def no_flags(seconds):
    return Flags(np.zeros(seconds, dtype=np.uint16))


def flagged(seconds, **stretches):
    codes = np.zeros(seconds, dtype=np.uint16)
    for name, (start, end) in stretches.items():
        codes[start:end] |= np.uint16(Reason[name])
    return Flags(codes)


def walk(seed, seconds=1200, gaps=0.1):
    rng = np.random.default_rng(seed)
    trace = np.clip(130 + np.cumsum(rng.normal(0, 2, seconds)), 40, 220).round()
    trace[rng.random(seconds) < gaps] = np.nan
    return trace


@settings(derandomize=True, deadline=None, max_examples=25)
@given(seed=st.integers(0, 10**6), gaps=st.floats(0.0, 0.9))
def test_seconds_add_up_to_the_valid_ones(seed, gaps):
    trace = walk(seed, gaps=gaps)
    assert states_of(trace, no_flags(len(trace))).seconds.sum() == np.isfinite(trace).sum()


@settings(derandomize=True, deadline=None, max_examples=25)
@given(seed=st.integers(0, 10**6))
def test_the_mean_rate_is_kept(seed):
    trace = walk(seed)
    found = states_of(trace, no_flags(len(trace)))
    assert found.rate @ found.seconds / found.seconds.sum() == pytest.approx(np.nanmean(trace))


def test_only_seconds_valid_in_both_count_beside_a_reference():
    trace, reference = walk(1), walk(2)
    found = states_of(trace, no_flags(len(trace)), reference)
    assert found.seconds.sum() == np.isfinite(trace + reference).sum()


def test_differences_weighted_by_seconds_give_the_mean_difference():
    trace, reference = walk(1), walk(2)
    found = states_of(trace, no_flags(len(trace)), reference)
    mean = found.difference @ found.seconds / found.seconds.sum()
    assert mean == pytest.approx(np.nanmean(reference - trace))


def test_without_a_reference_differences_are_unknown():
    assert np.isnan(states_of(walk(1), no_flags(1200)).difference).all()


def test_a_rate_stays_within_half_a_step_of_its_state():
    found = states_of(np.repeat([100.0, 101.0, 150.0], 60), no_flags(180))
    apart = found.rate - RATE_STEP * np.round(found.rate / RATE_STEP)
    assert np.all(np.abs(apart) <= RATE_STEP / 2)


def test_rising_and_falling_are_told_from_level():
    trace = np.concatenate([np.full(60, 100.0), np.linspace(100, 160, 40), np.full(60, 160.0)])
    up, down = (states_of(one, no_flags(160)) for one in (trace, trace[::-1].copy()))
    assert up.seconds[up.slope == 4].sum() == pytest.approx(40, abs=15)
    assert up.seconds[up.slope < 2].sum() == 0
    assert down.seconds[down.slope == 0].sum() == up.seconds[up.slope == 4].sum()


def test_the_start_is_counted_from_the_first_reading():
    trace = np.concatenate([np.full(100, np.nan), np.full(900, 120.0)])
    found = states_of(trace, no_flags(1000))
    assert [found.seconds[found.early == place].sum() for place in range(4)] == [60, 120, 300, 420]


def test_each_second_is_flagged_for_its_weightiest_reason():
    flags = flagged(
        200, SPIKE=(0, 10), BEFORE_LOCK_ON=(50, 80), STEP_RATE_LOCK=(70, 100), NEAR_STEP_RATE=(100, 110)
    )
    found = states_of(np.full(200, 120.0), flags)
    counted = [
        found.seconds[found.flagged == kind].sum()
        for kind in (NOT_FLAGGED, AT_START, AT_STEP_RATE, OTHERWISE)
    ]
    assert counted == [130, 20, 40, 10]


def test_a_trace_without_a_reading_is_in_no_state():
    assert len(states_of(np.full(50, np.nan), no_flags(50))) == 0


def test_a_trace_shorter_than_the_slope_is_level():
    found = states_of(np.linspace(90, 150, 15), no_flags(15))
    assert found.slope.tolist() == [2] * len(found)


@pytest.mark.parametrize("reference", [None, walk(2)], ids=["worn alone", "worn with a reference"])
def test_states_come_back_from_their_bytes(reference):
    kept = states_of(walk(1), flagged(1200, BEFORE_LOCK_ON=(0, 90), SPIKE=(400, 410)), reference)
    back = from_bytes(as_bytes(kept))
    for name in ("slope", "early", "flagged", "seconds"):
        assert getattr(back, name).tolist() == getattr(kept, name).tolist()
    for name in ("rate", "difference"):
        assert getattr(back, name) == pytest.approx(getattr(kept, name), rel=1e-6, abs=1e-5, nan_ok=True)


def test_states_are_read_as_numpy_reads_its_own_files():
    stored = as_bytes(states_of(walk(1), flagged(1200, SPIKE=(400, 410)), walk(2)))
    back, by_numpy = from_bytes(stored), np.load(io.BytesIO(stored))
    for name in ("rate", "seconds", "difference"):
        assert getattr(back, name).tobytes() == by_numpy[name].astype(float).tobytes()


def test_no_states_come_back_from_their_bytes():
    nothing = states_of(np.full(50, np.nan), no_flags(50))
    assert len(from_bytes(as_bytes(nothing))) == 0
