"""Where the features of pairs lie, and how far a session lies outside."""

import numpy as np
import pytest

from accuracy.core.learning.feature_range import OWN_PAIRS, REACH, range_along, ranges_of

NARROW = ("family", "group", "run")
SIBLING = ("family", "group", "ride")


def ranges(*pairs):
    return ranges_of((path, np.array(features, dtype=float)) for path, features in pairs)


def test_the_widest_group_has_the_mean_of_its_pairs():
    found = ranges((NARROW, [1.0, 4.0]), (SIBLING, [3.0, 0.0]))
    assert found["family"].middle.tolist() == [2.0, 2.0]


def test_a_narrower_group_is_drawn_to_the_wider_one_as_its_pairs_are_few():
    found = ranges((NARROW, [0.0]), (SIBLING, [6.0]))
    above = found["group"].middle[0]
    assert found["run"].middle[0] == pytest.approx((0.0 + OWN_PAIRS * above) / (1 + OWN_PAIRS))


def test_many_pairs_outweigh_the_wider_group():
    found = ranges(*[(NARROW, [0.0])] * 200, *[(SIBLING, [6.0])] * 200)
    assert found["run"].middle[0] == pytest.approx(0.0, abs=0.05)


def test_reach_goes_a_usual_departure_beyond_the_farthest_pair():
    found = ranges((NARROW, [0.0]), (NARROW, [4.0]))["family"]
    assert found.reach.tolist() == [2.0 + REACH]


def test_departures_are_held_within_reach():
    found = ranges((NARROW, [0.0]), (NARROW, [4.0]))["family"]
    assert found.departures(np.array([3.0])).tolist() == [1.0]
    assert found.departures(np.array([50.0])).tolist() == [3.0]
    assert found.departures(np.array([-50.0])).tolist() == [-3.0]


def test_excess_counts_only_what_lies_beyond_reach():
    found = ranges((NARROW, [0.0]), (NARROW, [4.0]))["family"]
    assert found.excess(np.array([4.5])).tolist() == [0.0]
    assert found.excess(np.array([7.0])).tolist() == [2.0]
    assert found.excess(np.array([-3.0])).tolist() == [2.0]


def test_an_unknown_feature_neither_departs_nor_exceeds():
    found = ranges((NARROW, [0.0]), (NARROW, [4.0]))["family"]
    assert found.departures(np.array([np.nan])).tolist() == [0.0]
    assert found.excess(np.array([np.nan])).tolist() == [0.0]


def test_a_pair_with_an_unknown_feature_does_not_move_its_middle():
    with_unknown = ranges((NARROW, [1.0, 5.0]), (NARROW, [3.0, np.nan]))["family"]
    assert with_unknown.middle.tolist() == [2.0, 5.0]


def test_every_pair_lies_within_its_own_range():
    rng = np.random.default_rng(3)
    pairs = [(path, 3 * rng.standard_normal(4)) for path in (NARROW, SIBLING) for _ in range(8)]
    found = ranges_of(pairs)
    assert all(not found[group].excess(features).any() for path, features in pairs for group in path)


def test_the_narrowest_group_that_holds_a_pair_speaks():
    found = ranges((NARROW, [0.0]))
    assert range_along(NARROW, found) is found["run"]
    assert range_along(SIBLING, found) is found["group"]
    assert range_along(("other family", "other group", "swim"), found) is None
