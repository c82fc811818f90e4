# mypy: disable-error-code="union-attr"

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays

from trainlog.load.draws import DRAWS, standard_normals
from trainlog.load.week import (
    PartLoad,
    compare,
    compare_with_usual,
    doubt_by_part,
    total,
    usual,
    variance_shares,
)

bounded = settings(derandomize=True, deadline=None, max_examples=50)
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


def weeks_of(*loads):
    return [total([certain(load)]) if load else None for load in loads]


def test_the_usual_week_is_the_mean_of_the_four_before():
    assert usual(weeks_of(100, 200, 300, 400)) == pytest.approx(np.full(DRAWS, 250.0))


def test_weeks_beyond_the_fourth_are_not_looked_at():
    assert usual(weeks_of(100, 200, 300, 400, 9000)) == pytest.approx(np.full(DRAWS, 250.0))


def test_a_week_of_rest_lowers_what_is_usual():
    assert usual(weeks_of(100, None, 300, 400)) == pytest.approx(np.full(DRAWS, 200.0))


def test_nothing_is_usual_after_three_weeks():
    assert usual(weeks_of(100, 200, 300)) is None
    assert compare_with_usual(total([certain(100)]), weeks_of(100, 200, 300)) is None


def test_nothing_is_compared_with_four_weeks_of_rest():
    assert compare_with_usual(total([certain(100)]), [None] * 4) is None


def test_this_week_is_compared_with_the_usual_one():
    change = compare_with_usual(total([certain(300)]), weeks_of(100, 200, 300, 400))
    assert change.per_cent_likely == 95
    assert (change.low, change.high) == pytest.approx((20, 20))


def test_a_week_of_rest_is_surely_below_the_usual_one():
    change = compare_with_usual(None, weeks_of(100, 200, 300, 400))
    assert (change.per_cent_likely, change.low, change.high) == (5, -100, -100)


def test_doubt_that_all_weeks_share_cancels_against_the_usual_one():
    before = [total([doubtful(100, 0, 0.2)]) for _ in range(4)]
    change = compare_with_usual(total([doubtful(110, 0, 0.2)]), before)
    assert (change.low, change.high) == pytest.approx((10, 10))


def test_four_weeks_are_surer_than_one():
    before = [total([doubtful(100, 0.2, seed=str(week))]) for week in range(4)]
    this = total([certain(100)])
    against_usual, against_last = compare_with_usual(this, before), compare(this, before[0])
    assert against_usual.high - against_usual.low < 0.7 * (against_last.high - against_last.low)


def test_parts_of_independent_doubt_share_the_variance_by_their_own():
    shares = variance_shares(np.stack([30 * standard_normals("a"), 10 * standard_normals("b")]))
    assert shares == pytest.approx([0.9, 0.1], abs=0.05)


def test_doubt_that_parts_share_is_split_between_them():
    assert variance_shares(np.stack([30 * SHARED, 10 * SHARED])) == pytest.approx([0.75, 0.25])


def test_a_part_that_moves_against_the_others_has_a_negative_share():
    assert variance_shares(np.stack([30 * SHARED, -10 * SHARED])) == pytest.approx([1.5, -0.5])


def test_a_certain_sum_has_no_doubt_to_share():
    assert variance_shares(np.full((3, DRAWS), 0.1)).tolist() == [0, 0, 0]


@bounded
@given(arrays.arrays(float, (4, 20), elements=st.floats(1, 500)))
def test_the_shares_of_a_doubtful_sum_add_up_to_one(parts):
    if np.ptp(parts.sum(axis=0)) > 1e-3:
        assert variance_shares(parts).sum() == pytest.approx(1)


def test_measuring_the_most_doubtful_part_narrows_the_sum_most():
    parts = [doubtful(100, 0.3, seed="a"), doubtful(100, 0.05, seed="b"), certain(100)]
    doubts = doubt_by_part(parts)
    widths = [doubt.half_width_if_measured for doubt in doubts]
    assert widths[0] < widths[1] < widths[2]
    assert widths[2] == pytest.approx(total(parts).sensor_half_width)
    assert np.argmax([doubt.share for doubt in doubts]) == 0


def test_measuring_the_only_doubtful_part_leaves_no_sensor_doubt():
    doubts = doubt_by_part([doubtful(100, 0.3, 0.1), certain(50)])
    assert doubts[0].half_width_if_measured == pytest.approx(0, abs=1e-12)
    assert doubts[0].share == pytest.approx(1)


def test_doubt_that_no_strap_removes_is_left_aside():
    by_physiology_alone, by_sensor_alone = doubtful(100, 0, 0.3), doubtful(100, 0.1)
    doubts = doubt_by_part([by_physiology_alone, by_sensor_alone])
    assert [doubt.share for doubt in doubts] == pytest.approx([0, 1])
    assert doubts[1].half_width_if_measured == pytest.approx(0, abs=1e-12)


def test_no_parts_have_no_doubt():
    assert doubt_by_part([]) == []
