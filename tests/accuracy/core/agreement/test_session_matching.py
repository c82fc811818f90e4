"""Matching sessions one to one on activity, intensity and length."""

import math
from itertools import permutations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from accuracy.core.agreement.session_matching import Candidate, match_sessions

SESSIONS = st.lists(
    st.builds(Candidate, st.sampled_from(["run", "ride"]), st.floats(40, 80), st.floats(30, 90)), max_size=5
)


def candidate(kind="run", intensity=60.0, minutes=45.0):
    return Candidate(kind, intensity, minutes)


def places(matches):
    return [(match.first, match.second) for match in matches]


def test_the_most_alike_sessions_are_matched():
    first = [candidate(intensity=55), candidate(intensity=65)]
    second = [candidate(intensity=64), candidate(intensity=56)]

    assert places(match_sessions(first, second)) == [(0, 1), (1, 0)]


def test_sessions_alike_in_all_are_at_no_distance():
    (match,) = match_sessions([candidate()], [candidate()])

    assert match.distance == 0


def test_another_activity_is_never_a_match():
    assert match_sessions([candidate("run")], [candidate("ride")]) == []


def test_beyond_the_bounds_of_intensity_or_length_nothing_is_matched():
    assert match_sessions([candidate(intensity=60)], [candidate(intensity=70.1)]) == []
    assert match_sessions([candidate(minutes=40)], [candidate(minutes=60.1)]) == []
    assert len(match_sessions([candidate(intensity=60)], [candidate(intensity=70)])) == 1
    assert len(match_sessions([candidate(minutes=40)], [candidate(minutes=60)])) == 1


def test_a_session_of_unknown_intensity_is_left_out():
    assert match_sessions([candidate(intensity=math.nan)], [candidate()]) == []


def test_one_match_more_is_worth_any_distance():
    # The nearest pair alone would leave the other two without a partner within bounds.
    first = [candidate(intensity=50), candidate(intensity=59)]
    second = [candidate(intensity=59), candidate(intensity=68)]

    assert places(match_sessions(first, second)) == [(0, 0), (1, 1)]


def test_without_sessions_there_are_no_matches():
    assert match_sessions([], [candidate()]) == []


@settings(deadline=None)
@given(SESSIONS, SESSIONS)
def test_no_session_is_matched_twice_and_no_other_matching_is_better(first, second):
    found = match_sessions(first, second)

    assert len({match.first for match in found}) == len({match.second for match in found}) == len(found)
    assert (len(found), -sum(match.distance for match in found)) >= (
        best_by_trying(first, second)[0],
        best_by_trying(first, second)[1] - 1e-6,
    )


def best_by_trying(first, second):
    """Most matches, and of those the least sum of distances (negative), by trying every assignment."""
    if len(first) > len(second):
        first, second = second, first
    best = (0, 0.0)
    for order in permutations(range(len(second)), len(first)):
        single = [match_sessions([first[i]], [second[j]]) for i, j in enumerate(order)]
        distances = [matches[0].distance for matches in single if matches]
        best = max(best, (len(distances), -float(np.sum(distances))))
    return best
