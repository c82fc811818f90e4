import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from accuracy.core.traces.artefacts import Reason
from accuracy.core.traces.pairing import LEAST_COMMON_SHARE, pair_up

steadily = settings(derandomize=True, deadline=None, max_examples=25)


def heart(seconds=1500, seed=0):
    """Work and rest of uneven lengths with a little unrest; whole bpm."""
    rng = np.random.default_rng(seed)
    goal, second = np.full(seconds, 100.0), 100
    while second < seconds:
        work = rng.integers(40, 200)
        goal[second : second + work] = rng.uniform(140, 175)
        second += work + rng.integers(30, 150)
    course, value = np.empty(seconds), 80.0
    for second in range(seconds):
        value += (goal[second] - value) / (22 if goal[second] > value else 40)
        course[second] = value
    return np.round(course + rng.normal(size=seconds))


def test_a_clean_synchronised_pair_is_kept_whole():
    trace = heart()
    pair = pair_up(trace, trace + 2, clocks_synchronised=True)
    assert pair.usable
    assert pair.why_not == ""
    assert pair.common_share == 1
    assert np.array_equal(pair.reference, trace)
    assert np.array_equal(pair.tested, trace + 2)


def test_synchronised_clocks_are_not_moved():
    trace = heart()
    pair = pair_up(trace, np.roll(trace, 20), clocks_synchronised=True)
    assert pair.shift.seconds == 0
    assert not pair.shift.ambiguous


def test_a_late_clock_is_moved_back():
    long = heart(1600)
    pair = pair_up(long[50:1550], long[30:1530], clocks_synchronised=False)
    assert pair.shift.seconds == pytest.approx(20, abs=0.5)
    both = np.isfinite(pair.reference)
    assert np.abs(pair.tested - pair.reference)[both].mean() < 1.5
    assert pair.common_seconds == both.sum()


def test_seconds_the_reference_got_wrong_are_cut_from_both():
    reference, tested = heart(), heart()
    reference[900:904] += 50
    pair = pair_up(reference, tested, clocks_synchronised=True)
    assert np.isnan(pair.reference[900:904]).all()
    assert np.isnan(pair.tested[900:904]).all()
    assert any("spike" in reason for reason in pair.reasons)


def test_seconds_the_tested_sensor_got_wrong_are_kept():
    reference, tested = heart(), heart()
    tested[900:904] += 50
    pair = pair_up(reference, tested, clocks_synchronised=True)
    assert np.array_equal(pair.tested[900:904], tested[900:904])
    assert pair.common_share == 1
    assert any("kept" in reason for reason in pair.reasons)


def test_a_lock_on_the_step_rate_is_noticed_and_kept():
    reference, cadence = heart(), 168 + 5 * np.sin(np.arange(1500) / 15)
    tested = heart()
    tested[600:1000] = np.round(cadence[600:1000])
    pair = pair_up(reference, tested, cadence=cadence, clocks_synchronised=True)
    assert pair.tested_flags.has(Reason.STEP_RATE_LOCK)[600:1000].mean() > 0.8
    assert np.isfinite(pair.tested[600:1000]).all()


def test_a_lock_is_confirmed_by_a_reference_that_departs_even_on_a_late_clock():
    long, cadence = heart(1600), 184 + 5 * np.sin(np.arange(1500) / 15)
    tested = long[30:1530].copy()
    tested[600:1000] = np.round(cadence[600:1000])
    pair = pair_up(long[50:1550], tested, cadence=cadence, clocks_synchronised=False)
    ((start, end, confirmed),) = pair.step_rate_locks
    assert confirmed
    assert (start, end) == (pytest.approx(600, abs=10), pytest.approx(1000, abs=10))
    assert any("while the reference departs" in reason for reason in pair.reasons)


def test_a_heart_at_the_step_rate_is_no_lock():
    trace = heart()
    pair = pair_up(trace, trace, cadence=trace, clocks_synchronised=True)
    assert not any(confirmed for *_, confirmed in pair.step_rate_locks)
    assert "Tested: at the step rate, and the reference agrees." in pair.reasons


def test_a_drifting_clock_is_put_right():
    long = heart(7300)
    at = np.arange(7200)
    late = np.interp((at - 3599.5) / (1 + 6 / 3600) + 3599.5, at, long[:7200])
    pair = pair_up(long[:7200], late, clocks_synchronised=False)
    assert pair.shift.drift == pytest.approx(6, abs=1)
    both = np.isfinite(pair.reference)
    assert np.abs(pair.tested - pair.reference)[both].mean() < np.abs(late - long[:7200]).mean() / 2


def test_too_few_common_seconds_set_the_pair_aside_and_say_why():
    reference = heart()
    reference[:400] = np.nan
    pair = pair_up(reference, heart(), clocks_synchronised=True)
    assert not pair.usable
    assert pair.common_share == pytest.approx(1100 / 1500)
    assert pair.why_not == "Only 73% of the part is valid in both traces."


def test_exactly_the_least_share_is_usable():
    tested = heart()
    tested[round(LEAST_COMMON_SHARE * 1500) :] = np.nan
    assert pair_up(heart(), tested, clocks_synchronised=True).usable


def test_a_tested_trace_of_nothing_is_set_aside():
    pair = pair_up(heart(), np.full(1500, np.nan), clocks_synchronised=False)
    assert not pair.usable
    assert pair.common_seconds == 0


@pytest.mark.parametrize("lengths", [(0, 0), (10, 11)])
def test_traces_that_are_no_pair_are_refused(lengths):
    with pytest.raises(ValueError, match="as many seconds"):
        pair_up(np.ones(lengths[0]), np.ones(lengths[1]), clocks_synchronised=True)


@steadily
@given(st.integers(0, 50), st.integers(0, 50))
def test_what_is_cut_from_the_reference_does_not_depend_on_the_wrist(seed, other):
    reference = heart(600, seed)
    reference[300:303] += 60
    rng = np.random.default_rng(other)
    first = pair_up(reference, heart(600, other), clocks_synchronised=True)
    second = pair_up(reference, np.round(rng.uniform(40, 200, 600)), clocks_synchronised=True)
    assert np.array_equal(first.reference, second.reference, equal_nan=True)


@steadily
@given(st.integers(0, 50), st.integers(0, 590), st.integers(1, 200))
def test_both_traces_of_a_pair_have_the_same_seconds(seed, start, length):
    tested = heart(600, seed)
    tested[start : start + length] = np.nan
    pair = pair_up(heart(600, seed), tested, clocks_synchronised=False)
    assert np.array_equal(np.isnan(pair.reference), np.isnan(pair.tested))
    assert pair.common_seconds == np.isfinite(pair.tested).sum()
