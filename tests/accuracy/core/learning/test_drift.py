"""A sensor whose error changed without new firmware being noted."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from accuracy.core.learning.drift import DatedScore, find_drifts


def dated(scores, group="wrist/family/resistance", first_day=0):
    return [DatedScore(group, first_day + 7 * number, float(score)) for number, score in enumerate(scores)]


def test_a_jump_in_the_scores_is_found_on_the_day_of_the_first_pair_after_it():
    rng = np.random.default_rng(4)
    scores = [*rng.normal(-0.6, 0.4, 7), *rng.normal(1.4, 0.4, 4)]
    (drift,) = find_drifts(dated(scores)).values()
    assert (drift.from_day, drift.after) == (49, 4)
    assert drift.change == pytest.approx(2.0, abs=0.5)


def test_scores_around_nothing_are_no_change():
    rng = np.random.default_rng(5)
    found = [find_drifts(dated(rng.normal(0, 1, count))) for count in (8, 12, 20, 40) for _ in range(50)]
    assert sum(map(bool, found)) <= 6


def test_one_odd_session_is_no_change():
    assert find_drifts(dated([0.1, -0.2, 0.3, 0.0, -0.1, 6.0])) == {}


def test_a_handful_of_pairs_is_too_few_to_say():
    assert find_drifts(dated([-1, -1, -1, 3])) == {}


def test_pairs_of_one_day_are_never_parted():
    scores = [DatedScore("wrist", 1, score) for score in (-2, -2, -2, 2, 2, 2)]
    assert find_drifts(scores) == {}


def test_a_change_in_one_family_says_nothing_of_another():
    changed = dated([-1, -1.1, -0.9, -1, 1.4, 1.5, 1.6], group="lifting")
    steady = dated([0.2, -0.3, 0.1, 0.4, -0.2, 0.1, 0.0], group="running")
    assert list(find_drifts(changed + steady)) == ["lifting"]


@given(st.permutations(range(9)))
def test_the_order_in_which_pairs_come_in_does_not_matter(order):
    scores = dated([-1, -0.8, -1.2, -1, -0.9, 1.4, 1.5, 1.2, 1.6])
    assert find_drifts(scores[place] for place in order) == find_drifts(scores)
