import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from accuracy.core.traces.artefacts import Reason, flag, untrustworthy
from accuracy.core.traces.detectors import FLAT_SECONDS
from accuracy.core.traces.step_rate import lock_confirmed

steadily = settings(derandomize=True, deadline=None, max_examples=50)
rates = st.one_of(st.just(np.nan), st.integers(0, 255).map(float))
traces = hnp.arrays(float, st.integers(1, 400), elements=rates)


def wandering(rng, seconds, sd, memory):
    keep = np.exp(-1 / memory)
    value, course = 0.0, np.empty(seconds)
    for second, noise in enumerate(rng.normal(size=seconds) * sd * np.sqrt(1 - keep**2)):
        value = value * keep + noise
        course[second] = value
    return course


def heart(seconds=1800, seed=0):
    """A believable trace: rest, two climbs of a hard interval, recovery; whole bpm."""
    goal = np.full(seconds, 80.0)
    goal[120:600] = 140
    goal[700:880] = 178
    goal[1000:1180] = 178
    course, value = np.empty(seconds), 80.0
    for second in range(seconds):
        value += (goal[second] - value) / (20 if goal[second] > value else 40)
        course[second] = value
    return np.round(course + wandering(np.random.default_rng(seed), seconds, 2, 15))


@pytest.mark.parametrize("seed", range(5))
def test_a_believable_electrical_trace_has_no_flags(seed):
    assert flag(heart(seed=seed), principle="electrical").stretches() == []


def test_missing_seconds_are_a_drop_out():
    trace = heart()
    trace[500:540] = np.nan
    assert flag(trace, principle="electrical").stretches() == [(500, 540, Reason.DROP_OUT)]


def test_a_trace_of_nothing_is_all_drop_out():
    assert flag(np.full(50, np.nan), principle="optical").stretches() == [(0, 50, Reason.DROP_OUT)]


def test_an_empty_trace_has_no_flags():
    assert flag(np.empty(0), principle="electrical").stretches() == []


def test_a_stuck_sensor_is_a_flat_line():
    trace = heart()
    end = 1300 + FLAT_SECONDS
    trace[1300:end] = 99.0
    trace[1299], trace[end] = 98.0, 98.0
    assert (1300, end, Reason.FLAT_LINE) in flag(trace, principle="optical").stretches()


def test_a_steady_minute_of_one_reading_is_no_flat_line():
    trace = heart()
    trace[1300 : 1300 + FLAT_SECONDS - 1] = 99.0
    trace[1299], trace[1300 + FLAT_SECONDS - 1] = 98.0, 98.0
    assert not flag(trace, principle="optical").has(Reason.FLAT_LINE).any()


@pytest.mark.parametrize("height", [45, -45])
def test_a_few_seconds_far_off_are_a_spike(height):
    trace = heart()
    trace[900:904] += height
    assert (900, 904, Reason.SPIKE) in flag(trace, principle="electrical").stretches()


def test_a_jump_and_its_return_are_impossible_with_all_between():
    trace = heart()
    trace[1400:1460] += 40
    flags = flag(trace, principle="electrical")
    assert flags.has(Reason.IMPOSSIBLE_CHANGE)[1400:1460].all()


def test_the_climb_of_a_hard_interval_is_possible():
    climb = 80 + 100 * (1 - np.exp(-np.arange(600) / 20))
    assert not flag(climb, principle="electrical").has(Reason.IMPOSSIBLE_CHANGE).any()


@pytest.mark.parametrize("rate", [0.0, 29.0, 231.0])
def test_a_rate_no_heart_at_work_has_is_out_of_range(rate):
    trace = heart()
    trace[1500:1510] = rate
    assert flag(trace, principle="electrical").has(Reason.OUT_OF_RANGE)[1500:1510].all()


def test_an_erratic_start_is_dry_electrodes_until_it_settles():
    trace = heart()
    trace[:150:10] = 205
    flags = flag(trace, principle="electrical")
    first, end, _ = next(part for part in flags.stretches() if part[2] == Reason.DRY_ELECTRODES)
    assert first == 0
    assert 140 <= end <= 150


def test_a_high_start_that_drops_at_once_is_dry_electrodes():
    trace = heart()
    trace[:90] = 200 + np.arange(90) % 3
    assert flag(trace, principle="electrical").has(Reason.DRY_ELECTRODES)[:90].all()


def test_one_spike_in_the_first_minutes_leaves_the_start_alone():
    trace = heart()
    trace[200] += 25
    assert not flag(trace, principle="electrical").has(Reason.DRY_ELECTRODES).any()


def test_an_optical_sensor_has_no_electrodes():
    trace = heart()
    trace[:150:10] = 205
    assert not flag(trace, principle="optical").has(Reason.DRY_ELECTRODES).any()


def test_a_leap_in_the_first_minutes_may_be_an_optical_sensor_locking_on():
    trace = heart()
    trace[:200] = np.minimum(trace[:200], 85 + np.arange(200) % 3)
    flags = flag(trace, principle="optical")
    assert flags.has(Reason.BEFORE_LOCK_ON)[:195].all()
    assert not flags.has(Reason.BEFORE_LOCK_ON)[240:].any()


def locked(multiple):
    rng = np.random.default_rng(3)
    steps = 168 + wandering(rng, 1800, 2.5, 40)
    trace = heart()
    trace[700:1200] = np.round(steps[700:1200])
    return trace, steps * multiple


@pytest.mark.parametrize("multiple", [0.5, 1, 2])
def test_a_rate_that_follows_the_steps_is_a_step_rate_lock(multiple):
    trace, cadence = locked(multiple)
    found = flag(trace, principle="optical", cadence=cadence).has(Reason.STEP_RATE_LOCK)
    assert found[700:1200].mean() > 0.9
    assert found[:650].sum() + found[1250:].sum() == 0


def test_without_cadence_no_step_rate_lock_is_claimed():
    assert not flag(locked(1)[0], principle="optical").has(Reason.STEP_RATE_LOCK).any()


def test_a_steady_rate_near_a_steady_cadence_is_no_lock():
    rng = np.random.default_rng(4)
    trace, cadence = 168 + wandering(rng, 1800, 1, 20), 168 + wandering(rng, 1800, 0.3, 20)
    assert flag(trace, principle="optical", cadence=cadence).has(Reason.STEP_RATE_LOCK).mean() < 0.1


def test_a_steady_rate_near_a_steady_cadence_is_noticed_as_near_and_cut_from_nothing():
    rng = np.random.default_rng(4)
    trace, cadence = 168 + wandering(rng, 1800, 1, 20), 168 + wandering(rng, 1800, 0.3, 20)
    flags = flag(trace, principle="optical", cadence=cadence)
    near = flags.has(Reason.NEAR_STEP_RATE)
    assert near.mean() > 0.9
    assert not untrustworthy(flags)[near].any()


def test_a_rate_that_wanders_loosely_around_the_step_rate_is_not_noticed():
    rng = np.random.default_rng(5)
    trace, cadence = 168 + wandering(rng, 1800, 2, 15), np.full(1800, 168.0)
    flags = flag(trace.clip(165.2, 170.8), principle="optical", cadence=cadence)
    assert not flags.at_step_rate().any()


def test_a_leap_onto_a_constant_cadence_is_a_lock():
    trace, cadence = heart(), np.full(1800, 168.0)
    trace[300:600] = 168 + wandering(np.random.default_rng(1), 300, 0.8, 8)
    found = flag(trace, principle="optical", cadence=cadence)
    assert found.has(Reason.STEP_RATE_LOCK)[300:600].mean() > 0.9
    assert not found.has(Reason.STEP_RATE_LOCK)[:290].any()


def test_a_heart_that_settles_at_a_constant_cadence_is_only_near_it():
    rate = 100 + 66 * (1 - np.exp(-np.arange(900) / 25)) + wandering(np.random.default_rng(2), 900, 0.7, 15)
    flags = flag(rate, principle="optical", cadence=np.full(900, 166.0))
    assert not flags.has(Reason.STEP_RATE_LOCK).any()
    assert flags.has(Reason.NEAR_STEP_RATE)[200:].mean() > 0.9


def test_a_reference_that_departs_confirms_a_lock_and_one_that_agrees_does_not():
    trace, cadence = locked(1)
    flags = flag(trace, principle="optical", cadence=cadence)
    low = trace.copy()
    low[700:1200] = 120
    ((start, end, confirmed),) = lock_confirmed(flags, low, trace)
    assert (start, end) == (pytest.approx(700, abs=15), pytest.approx(1200, abs=15))
    assert confirmed
    assert [confirmed for *_, confirmed in lock_confirmed(flags, trace, trace)] == [False]


def test_a_reference_without_readings_confirms_nothing():
    trace, cadence = locked(1)
    flags = flag(trace, principle="optical", cadence=cadence)
    assert not any(confirmed for *_, confirmed in lock_confirmed(flags, np.full(1800, np.nan), trace))


def test_confirming_needs_traces_as_long_as_the_flags():
    trace, cadence = locked(1)
    with pytest.raises(ValueError, match="as many seconds"):
        lock_confirmed(flag(trace, principle="optical", cadence=cadence), trace[:10], trace)


@pytest.mark.parametrize("start", [80, 100])
def test_the_onset_of_work_is_no_lock_on(start):
    rate = start + 60 * (1 - np.exp(-np.maximum(np.arange(1200) - 90, 0) / 22))
    assert not flag(np.round(rate), principle="optical").has(Reason.BEFORE_LOCK_ON).any()


def test_a_missing_cadence_is_no_lock_and_raises_no_warning():
    assert (
        not flag(heart(), principle="optical", cadence=np.full(1800, np.nan)).has(Reason.STEP_RATE_LOCK).any()
    )


def test_a_time_before_lock_on_is_information_and_cut_from_nothing():
    trace = heart()
    trace[:200] = np.minimum(trace[:200], 85 + np.arange(200) % 3)
    flags = flag(trace, principle="optical")
    assert flags.has(Reason.BEFORE_LOCK_ON).any()
    assert not untrustworthy(flags)[:180].any()


def test_missing_and_wrong_seconds_of_a_reference_are_untrustworthy():
    trace = heart()
    trace[500:540] = np.nan
    trace[900:904] += 45
    cut = untrustworthy(flag(trace, principle="electrical"))
    assert cut[500:540].all()
    assert cut[900:904].all()
    assert cut.sum() < 60


def test_an_unknown_principle_is_refused():
    with pytest.raises(ValueError, match="electrical or optical"):
        flag(heart(), principle="acoustic")


def test_a_cadence_of_another_length_is_refused():
    with pytest.raises(ValueError, match="as many seconds"):
        flag(heart(), principle="optical", cadence=np.ones(3))


@steadily
@given(traces, st.sampled_from(["electrical", "optical"]))
def test_every_missing_second_and_none_other_is_a_drop_out(trace, principle):
    flags = flag(trace, principle=principle, cadence=trace)
    assert np.array_equal(flags.has(Reason.DROP_OUT), np.isnan(trace))


@steadily
@given(traces)
def test_stretches_say_exactly_what_the_codes_say(trace):
    flags = flag(trace, principle="electrical")
    codes = np.zeros(len(trace), dtype=np.uint16)
    for start, end, reason in flags.stretches():
        codes[start:end] |= np.uint16(reason)
    assert np.array_equal(codes, flags.codes)


@steadily
@given(traces)
def test_judging_a_trace_leaves_it_as_it_was(trace):
    before = trace.copy()
    flag(trace, principle="electrical")
    assert np.array_equal(trace, before, equal_nan=True)
