import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from trainlog.load.draws import DRAWS, standard_normals
from trainlog.load.plan import AgainstRange, against_range, still_open

loads = arrays(float, DRAWS, elements=st.floats(0, 2000))
bounds = st.floats(0, 2000)


def test_a_load_spread_evenly_over_the_ends_lies_on_each_side_by_its_share():
    load = np.arange(DRAWS, dtype=float)
    assert against_range(load, 128, 384) == AgainstRange(below=25, within=50, above=25)


def test_a_side_without_an_end_has_no_probability():
    load = 100 + 10 * standard_normals("load")
    assert against_range(load, 100, None) == AgainstRange(below=50, within=50, above=None)
    assert against_range(load, None, 100) == AgainstRange(below=None, within=50, above=50)


def test_no_number_of_draws_proves_certainty():
    assert against_range(np.full(DRAWS, 100.0), 90, 110) == AgainstRange(below=5, within=95, above=5)


def test_a_load_on_an_end_of_the_range_lies_within_it():
    assert against_range(np.full(DRAWS, 100.0), 100, 100).within == 95


@pytest.mark.parametrize(("low", "high", "words"), [(None, None, "needs an end"), (2, 1, "must not exceed")])
def test_a_range_that_is_none_is_refused(low, high, words):
    with pytest.raises(ValueError, match=words):
        against_range(np.zeros(DRAWS), low, high)


def test_what_is_open_is_as_uncertain_as_the_load_so_far():
    missing = still_open(100 + 10 * standard_normals("so far"), 200)
    assert missing.median == pytest.approx(100, abs=0.1)
    assert missing.high - missing.low == pytest.approx(2 * 1.2816 * 10, rel=0.01)


def test_nothing_is_open_beyond_the_bound():
    missing = still_open(100 + standard_normals("so far"), 50)
    assert (missing.low, missing.median, missing.high) == (0, 0, 0)


@given(loads, bounds, bounds)
def test_the_three_sides_share_all_draws_but_for_rounding(load, one, other):
    found = against_range(load, min(one, other), max(one, other))
    # Each may be rounded by half a step, and one or two lifted from nothing to 5.
    assert 90 <= found.below + found.within + found.above <= 110
    assert all(5 <= side <= 95 and side % 5 == 0 for side in (found.below, found.within, found.above))


@given(loads, bounds, st.floats(0, 500))
def test_a_wider_range_is_never_less_likely_to_hold_the_load(load, low, width):
    narrow, wide = against_range(load, low, low + width), against_range(load, low, low + 2 * width)
    assert narrow.within <= wide.within
    assert narrow.below == wide.below
    assert narrow.above >= wide.above


@given(loads, bounds, bounds)
def test_less_is_open_up_to_a_nearer_bound_and_never_less_than_nothing(load, one, other):
    near, far = still_open(load, min(one, other)), still_open(load, max(one, other))
    assert 0 <= near.low <= near.median <= near.high <= max(one, other)
    assert near.median <= far.median
