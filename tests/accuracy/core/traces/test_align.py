import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from accuracy.core.traces.align import estimate_shift, moved, no_shift, shifted

steadily = settings(derandomize=True, deadline=None, max_examples=40)


def wandering(rng, seconds, sd, memory):
    noise = rng.normal(size=seconds) * sd * np.sqrt(1 - np.exp(-2 / memory))
    value, course = 0.0, np.empty(seconds)
    for second in range(seconds):
        value = value * np.exp(-1 / memory) + noise[second]
        course[second] = value
    return course


def interval_heart(rng, seconds=1800):
    """Heart rate of work and rest of uneven lengths."""
    goal, second = np.full(seconds, 110.0), 120
    while second < seconds:
        work, rest = rng.integers(40, 200), rng.integers(30, 150)
        goal[second : second + work] = rng.uniform(145, 180)
        second += work + rest
    heart, value = np.empty(seconds), 80.0
    for second in range(seconds):
        value += (goal[second] - value) / (22 if goal[second] > value else 40)
        heart[second] = value
    return heart + wandering(rng, seconds, 2, 20)


def good_pair(seed):
    rng = np.random.default_rng(seed)
    heart = interval_heart(rng)
    return np.round(heart), np.round(heart + wandering(rng, len(heart), 2, 8))


def test_a_tested_trace_that_runs_late_gives_a_positive_shift():
    reference, tested = good_pair(1)
    assert estimate_shift(reference, shifted(tested, 7)).seconds == pytest.approx(7, abs=0.5)


def test_moving_the_tested_trace_by_the_negative_shift_brings_the_pair_together():
    reference, tested = good_pair(2)
    late = shifted(tested, 33)
    moved = shifted(late, -estimate_shift(reference, late).seconds)
    both = np.isfinite(moved)
    assert np.corrcoef(moved[both], reference[both])[0, 1] > 0.97


@pytest.mark.parametrize("seconds", [-60, -41.5, -12, -3.5, 4, 17.5, 38, 60])
def test_an_injected_shift_is_found_within_a_second(seconds):
    for seed in range(3):
        reference, tested = good_pair(seed)
        found = estimate_shift(reference, shifted(tested, seconds))
        assert not found.ambiguous
        assert found.seconds == pytest.approx(seconds, abs=1)


def test_gaps_in_both_traces_do_not_spoil_the_shift():
    reference, tested = good_pair(3)
    reference[400:520] = np.nan
    tested[900:1000] = np.nan
    assert estimate_shift(reference, shifted(tested, 21.5)).seconds == pytest.approx(21.5, abs=1)


def test_a_wandering_offset_of_the_sensor_does_not_spoil_the_shift():
    reference, tested = good_pair(4)
    drift = np.linspace(0, 25, len(tested))
    assert estimate_shift(reference, shifted(tested + drift, 15)).seconds == pytest.approx(15, abs=1)


def test_synchronous_traces_stay_where_they_are():
    found = estimate_shift(*good_pair(5))
    assert found.seconds == 0
    assert not found.ambiguous


def test_steady_work_has_no_edges_and_is_not_moved():
    rng = np.random.default_rng(6)
    reference, tested = (140 + wandering(rng, 1800, 1, 30) for _ in range(2))
    found = estimate_shift(reference, tested)
    assert found.seconds == 0
    assert found.ambiguous
    assert "steady" in found.reason


def test_unrelated_traces_are_not_moved():
    found = estimate_shift(good_pair(7)[0], good_pair(8)[1])
    assert found.seconds == 0
    assert found.ambiguous
    assert "rise and fall together" in found.reason


def test_a_shift_at_the_edge_of_the_search_is_not_believed():
    reference, tested = good_pair(9)
    found = estimate_shift(reference, shifted(tested, 30), longest=30)
    assert found.seconds == 0
    assert "edge" in found.reason


def test_repeated_intervals_without_anything_else_are_ambiguous():
    rng = np.random.default_rng(10)
    wave = 140 + 20 * np.sin(np.arange(1800) * 2 * np.pi / 80)
    reference, tested = (wave + wandering(rng, 1800, 3, 10) for _ in range(2))
    found = estimate_shift(reference, shifted(tested, 30))
    assert found.seconds == 0
    assert "Several shifts" in found.reason


def test_a_shift_that_parts_of_the_session_dispute_is_not_used_and_says_how_unsure_it_is():
    reference, tested = good_pair(11)
    disputed = np.concatenate(
        [shifted(tested, at)[part] for at, part in ((-8, slice(900)), (8, slice(900, None)))]
    )
    found = estimate_shift(reference, disputed)
    assert found.seconds == 0
    assert found.ambiguous
    assert found.uncertainty > 3


@pytest.mark.parametrize("seed", range(4))
def test_a_tested_trace_wrong_for_half_the_session_is_aligned_by_the_other_half(seed):
    reference, tested = good_pair(seed)
    tested[900:] = good_pair(seed + 50)[1][900:]
    found = estimate_shift(reference, shifted(tested, 14))
    assert found.ambiguous or found.seconds == pytest.approx(14, abs=1)
    assert seed > 1 or not found.ambiguous


def test_the_standard_error_grows_with_the_sensors_own_noise():
    rng = np.random.default_rng(3)
    heart = interval_heart(rng)
    spreads = [
        estimate_shift(heart, heart + wandering(rng, len(heart), noise, 10)).uncertainty for noise in (1, 12)
    ]
    assert spreads[0] < spreads[1]


def late_clock(tested, seconds, seconds_per_hour):
    """What a clock that loses time writes: the moment ``t`` appears at ``t`` plus its lag."""
    at = np.arange(len(tested))
    middle = (len(tested) - 1) / 2
    return np.interp((at - middle - seconds) / (1 + seconds_per_hour / 3600) + middle, at, tested)


@pytest.mark.parametrize("rate", [-6, 5])
def test_the_drift_of_a_clock_over_two_hours_is_found_and_taken_back(rate):
    rng = np.random.default_rng(20)
    reference = interval_heart(rng, 7200)
    tested = reference + wandering(rng, 7200, 2, 8)
    late = late_clock(tested, 9, rate)
    found = estimate_shift(reference, late)
    assert found.drift == pytest.approx(rate, abs=0.7)
    assert found.seconds == pytest.approx(9, abs=1)
    assert "an hour" in found.reason
    with_drift, without = (
        np.nanmean(np.abs(back - tested)[300:-300])
        for back in (moved(late, found), shifted(late, -found.seconds))
    )
    assert with_drift < without / 2


def test_a_clock_that_runs_true_has_no_drift():
    rng = np.random.default_rng(21)
    reference = interval_heart(rng, 7200)
    assert estimate_shift(reference, shifted(reference + wandering(rng, 7200, 2, 8), 9)).drift == 0


def test_no_drift_is_looked_for_in_less_than_an_hour():
    rng = np.random.default_rng(22)
    reference = interval_heart(rng, 3000)
    assert estimate_shift(reference, late_clock(reference, 0, 9)).drift == 0


def test_a_shift_of_nothing_moves_nothing():
    values = np.arange(10.0)
    assert moved(values, no_shift()) is values


def test_a_short_session_with_sharp_edges_is_aligned():
    reference, tested = good_pair(12)
    found = estimate_shift(reference[:400], shifted(tested, 20)[:400])
    assert not found.ambiguous
    assert found.seconds == pytest.approx(20, abs=1)


def test_a_short_session_with_one_rise_alone_is_not_aligned():
    rng = np.random.default_rng(23)
    heart = 80 + 60 * (1 - np.exp(-np.maximum(np.arange(300) - 60, 0) / 30)) + wandering(rng, 300, 1, 10)
    tested = heart + wandering(rng, 300, 3, 10)
    assert estimate_shift(heart, shifted(tested, 15)).ambiguous


def test_a_short_session_whose_halves_dispute_the_shift_is_not_aligned():
    reference, tested = good_pair(12)
    disputed = np.concatenate([shifted(tested, -8)[:200], shifted(tested, 8)[200:400]])
    assert estimate_shift(reference[:400], disputed).ambiguous


def test_a_shift_that_leaves_no_other_to_compare_with_is_not_believed():
    """The only lag with two minutes in common would be certain if the others were left out of account."""
    reference, tested = good_pair(12)
    tested = tested[:240].copy()
    tested[121:] = np.nan
    found = estimate_shift(reference[:240], tested)
    assert found.ambiguous


def test_under_two_minutes_are_too_short_to_align():
    reference, tested = good_pair(12)
    found = estimate_shift(reference[120:230], tested[120:230])
    assert found.ambiguous
    assert "too few seconds" in found.reason


@pytest.mark.parametrize("empty", [np.full(1000, np.nan), np.full(1000, 120.0), np.empty(0)])
def test_traces_without_content_are_ambiguous_and_raise_no_warning(empty):
    assert estimate_shift(empty, empty).ambiguous


def test_traces_of_different_length_are_refused():
    with pytest.raises(ValueError, match="one grid"):
        estimate_shift(np.ones(5), np.ones(6))


def test_synchronised_clocks_need_no_search():
    assert no_shift().seconds == 0
    assert not no_shift().ambiguous
    assert no_shift("One device recorded both.").reason == "One device recorded both."


def test_a_whole_second_shift_moves_samples_exactly():
    assert np.array_equal(shifted(np.array([1.0, 2, 3, 4]), 1), np.array([np.nan, 1, 2, 3]), equal_nan=True)
    assert np.array_equal(
        shifted(np.array([1.0, 2, 3, 4]), -2), np.array([3, 4, np.nan, np.nan]), equal_nan=True
    )


def test_half_a_second_lies_between_two_samples():
    assert np.array_equal(
        shifted(np.array([1.0, 2, 3, 4]), 0.5), np.array([np.nan, 1.5, 2.5, 3.5]), equal_nan=True
    )
    assert np.array_equal(
        shifted(np.array([1.0, 2, 3, 4]), -0.5), np.array([1.5, 2.5, 3.5, np.nan]), equal_nan=True
    )


@steadily
@given(st.integers(0, 500), st.integers(-100, 100).map(lambda half: half / 2))
def test_shifts_of_pairs_that_agree_are_found_or_left_ambiguous(seed, seconds):
    reference, tested = good_pair(seed)
    found = estimate_shift(reference, shifted(tested, seconds))
    assert found.ambiguous or found.seconds == pytest.approx(seconds, abs=1)


@steadily
@given(st.integers(0, 100), st.integers(-60, 60), st.floats(-30, 30), st.floats(0.5, 1.5))
def test_offset_and_gain_of_the_sensor_do_not_change_the_shift(seed, seconds, offset, gain):
    reference, tested = good_pair(seed)
    late = shifted(tested, seconds)
    assert estimate_shift(reference, gain * late + offset).seconds == pytest.approx(
        estimate_shift(reference, late).seconds, abs=0.01
    )


@steadily
@given(st.integers(0, 100), st.integers(-60, 60))
def test_swapping_the_traces_turns_the_shift_around(seed, seconds):
    reference, tested = good_pair(seed)
    late = shifted(tested, seconds)
    there, back = estimate_shift(reference, late), estimate_shift(late, reference)
    assert there.seconds == pytest.approx(-back.seconds, abs=0.01)


@steadily
@given(st.lists(st.floats(40, 200), min_size=1, max_size=50), st.integers(-60, 60))
def test_moving_there_and_back_keeps_what_stayed_on_the_grid(values, seconds):
    values = np.array(values)
    back = shifted(shifted(values, seconds), -seconds)
    stayed = np.isfinite(back)
    assert np.array_equal(back[stayed], values[stayed])
    assert stayed.sum() == max(len(values) - abs(seconds), 0)
