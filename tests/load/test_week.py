# mypy: disable-error-code="union-attr"

import numpy as np
import pytest

from trainlog.load.draws import DRAWS, standard_normals
from trainlog.load.week import PartLoad, compare, total

SHARED = standard_normals("shared")


def doubtful(median, sensor, physiology=0.0, seed="one"):
    """Load with relative doubts: the sensor's own to this part, the physiology's shared by all."""
    by_sensor = median * (1 + sensor * standard_normals(seed))
    by_physiology = median * (1 + physiology * SHARED)
    return PartLoad(by_sensor * by_physiology / median, by_sensor, by_physiology)


def certain(load):
    values = np.full(DRAWS, float(load))
    return PartLoad(values, values, values)


def test_the_sum_of_certain_loads_is_certain():
    week = total([certain(40), certain(60)])
    assert (week.low, week.median, week.high) == (100, 100, 100)
    assert (week.sensor_half_width, week.physiology_half_width) == (0, 0)


def test_no_parts_have_no_total():
    assert total([]) is None


def test_the_order_of_parts_does_not_matter():
    parts = [doubtful(50, 0.2, seed="a"), doubtful(80, 0.1, seed="b"), certain(30)]
    assert np.allclose(total(parts).draws, total(parts[::-1]).draws, rtol=1e-14)


def test_doubt_that_is_peculiar_to_each_session_shrinks_in_the_sum():
    one = total([doubtful(100, 0.2, seed="0")])
    four = total([doubtful(100, 0.2, seed=str(i)) for i in range(4)])
    assert four.sensor_half_width == pytest.approx(one.sensor_half_width / 2, rel=0.15)


def test_doubt_that_sessions_share_does_not_shrink_in_the_sum():
    one = total([doubtful(100, 0, 0.1)])
    four = total([doubtful(100, 0, 0.1) for _ in range(4)])
    assert four.physiology_half_width == pytest.approx(one.physiology_half_width)


def test_the_two_doubts_are_told_apart():
    week = total([doubtful(100, 0.2), doubtful(100, 0.2, seed="two")])
    assert week.physiology_half_width == 0
    assert week.sensor_half_width > 0.1


def test_a_week_that_is_surely_harder_is_never_called_certain():
    change = compare(total([certain(200)]), total([certain(100)]))
    assert change.per_cent_likely == 95
    assert (change.low, change.high) == pytest.approx((100, 100))


def test_a_week_against_itself_is_as_likely_higher_as_lower():
    week = total([doubtful(100, 0.3)])
    change = compare(week, week)
    assert change.per_cent_likely == 50
    assert (change.low, change.high) == pytest.approx((0, 0))


def test_doubt_that_both_weeks_share_cancels_in_the_comparison():
    change = compare(total([doubtful(110, 0, 0.2)]), total([doubtful(100, 0, 0.2)]))
    assert change.per_cent_likely == 95
    assert (change.low, change.high) == pytest.approx((10, 10))


def test_a_week_of_rest_is_surely_easier_than_one_with_load():
    change = compare(None, total([certain(100)]))
    assert change.per_cent_likely == 5
    assert (change.low, change.high) == (-100, -100)


def test_nothing_is_compared_with_a_week_of_rest():
    assert compare(total([certain(100)]), None) is None
    assert compare(None, None) is None


def test_nothing_is_compared_with_a_week_whose_load_may_have_been_nothing():
    maybe_nothing = np.concatenate([[0.0], np.full(DRAWS - 1, 50.0)])
    assert compare(total([certain(1)]), total([PartLoad(*[maybe_nothing] * 3)])) is None
