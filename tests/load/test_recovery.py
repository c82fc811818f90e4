import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trainlog.load.draws import DRAWS, interval, standard_normals
from trainlog.load.recovery import hours_until_ready, recovery_hours

bounded = settings(derandomize=True, deadline=None, max_examples=50)
minutes = st.floats(0, 240)
in_domains = st.tuples(minutes, minutes, minutes).map(np.array)
loads = st.floats(0, 1000)


def hours(of_minutes, load, usual=60.0, seed=1):
    return recovery_hours(np.asarray(of_minutes), np.full(DRAWS, load), np.full(DRAWS, usual), seed)


@bounded
@given(in_domains, loads, loads, st.floats(0, 500))
def test_more_load_never_shortens_recovery(of_minutes, load, usual, more):
    assert np.all(hours(of_minutes, load + more, usual) >= hours(of_minutes, load, usual) - 1e-9)


@bounded
@given(in_domains, loads, loads, st.floats(0, 500))
def test_an_athlete_who_is_used_to_more_never_needs_longer(of_minutes, load, usual, more):
    assert np.all(hours(of_minutes, load, usual + more) <= hours(of_minutes, load, usual) + 1e-9)


@bounded
@given(in_domains, loads, st.sampled_from([(0, 1), (1, 2), (0, 2)]), st.floats(0, 1))
def test_a_minute_moved_to_a_higher_domain_never_shortens_recovery(of_minutes, load, domains, share):
    lower, higher = domains
    harder = of_minutes.copy()
    harder[lower] -= share * of_minutes[lower]
    harder[higher] += share * of_minutes[lower]
    assert np.all(hours(harder, load) >= hours(of_minutes, load) - 1e-9)


@bounded
@given(in_domains, loads, loads)
def test_recovery_takes_nothing_to_three_days(of_minutes, load, usual):
    found = hours(of_minutes, load, usual)
    assert np.all((found >= 0) & (found <= 72))


def test_an_easy_session_of_usual_load_lies_in_the_middle_of_its_range():
    low, median, high = interval(hours([60, 0, 0], 60.0))
    assert median == pytest.approx(12, abs=0.1)
    assert (low, high) == pytest.approx((24 * 0.217, 24 * 0.783), abs=0.2)


def test_minutes_between_the_ranges_slide_and_do_not_jump():
    medians = [interval(hours([40, threshold, 0], 60.0))[1] for threshold in range(25)]
    assert max(np.diff(medians)) < 1.3
    assert medians[-1] == pytest.approx(36, abs=0.1)


def test_minutes_above_the_second_threshold_are_above_the_first_too():
    both = interval(hours([40, 10, 5], 60.0))[1]
    ten_between, five_above = 10 / 20 * 24, 5 / 20 * 24
    half_way_to_high = 5 / 10 * 24
    assert both == pytest.approx(12 + ten_between + five_above + half_way_to_high, abs=0.1)


def test_rest_needs_no_recovery():
    assert np.all(hours([0, 0, 0], 0.0) == 0)
    assert np.all(hours([0, 0, 0], 0.0, usual=0.0) == 0)


def test_where_nothing_was_usual_any_load_lies_at_the_upper_end():
    assert hours([60, 0, 0], 30.0, usual=0.0) == pytest.approx(np.full(DRAWS, 24.0))


def test_the_same_athlete_recovers_alike_from_different_sessions():
    easy, hard = hours([60, 0, 0], 50.0), hours([20, 10, 20], 120.0)
    assert np.corrcoef(easy, hard)[0, 1] > 0.9


def test_draws_of_the_minutes_and_of_the_load_are_met_draw_by_draw():
    shared = np.exp(0.3 * standard_normals("sensor"))
    of_minutes = np.stack([np.full(DRAWS, 40.0), 5 * shared, 3 * shared], axis=-1)
    found = recovery_hours(of_minutes, 80 * shared, np.full(DRAWS, 60.0), 1)
    one = recovery_hours(of_minutes[7], 80 * shared, np.full(DRAWS, 60.0), 1)
    assert found.shape == (DRAWS,)
    assert found[7] == pytest.approx(one[7])


@pytest.mark.parametrize("bad", [-1.0, np.nan, np.inf])
def test_impossible_minutes_and_loads_are_refused(bad):
    with pytest.raises(ValueError, match="cannot be negative"):
        hours([bad, 0, 0], 50.0)
    with pytest.raises(ValueError, match="cannot be negative"):
        hours([60, 0, 0], bad)
    with pytest.raises(ValueError, match="cannot be negative"):
        hours([60, 0, 0], 50.0, usual=bad)


def test_the_session_that_takes_longest_decides():
    of_sessions = np.array([[60.0, 50.0], [10.0, 20.0]])
    assert hours_until_ready(of_sessions, np.array([45.0, 3.0])).tolist() == [15, 17]


def test_what_is_over_leaves_nothing_to_wait_for():
    assert hours_until_ready(np.array([[20.0, 30.0]]), np.array([40.0])).tolist() == [0, 0]


def test_waiting_without_a_session_or_before_its_end_is_refused():
    with pytest.raises(ValueError, match="nothing to recover from"):
        hours_until_ready(np.empty((0, 2)), np.empty(0))
    with pytest.raises(ValueError, match="must have ended"):
        hours_until_ready(np.array([[20.0, 30.0]]), np.array([-1.0]))
