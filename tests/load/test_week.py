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
    main_doubt,
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


def test_two_weeks_make_a_usual_one():
    assert usual(weeks_of(100, 200)) == pytest.approx(np.full(DRAWS, 150.0))


@pytest.mark.parametrize("before", [(), (100,), (100, 0, 0, 0)])
def test_nothing_is_usual_after_one_week_of_training(before):
    assert usual(weeks_of(*before)) is None
    assert compare_with_usual(total([certain(100)]), weeks_of(*before)) is None


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


def parts_with(*doubts):
    return [doubtful(100, doubt / 100, seed=str(place)) for place, doubt in enumerate(doubts)]


def named(doubts, measured=()):
    found = main_doubt(parts_with(*doubts), [place in measured for place in range(len(doubts))])
    return found.parts if found else None


def test_the_one_part_that_makes_most_of_the_doubt_is_named():
    assert named([2, 20, 3, 4]) == [1]


def test_as_many_are_named_as_make_most_of_it_the_most_doubtful_first():
    assert named([3, 18, 20, 3, 5, 19]) == [2, 5]


def test_nothing_is_said_where_three_parts_do_not_make_most_of_the_doubt():
    assert named([20] * 8 + [5] * 8) is None


@pytest.mark.parametrize("parts", [2, 3, 4, 5])
def test_none_of_several_like_parts_stands_out(parts):
    shared = PartLoad(*[100 + 10 * SHARED] * 3)
    assert main_doubt([shared] * parts, [False] * parts) is None


def test_the_only_unmeasured_part_stands_out():
    assert named([1, 10, 1], measured={0, 2}) == [1]


def test_a_measured_part_is_not_named_even_where_it_makes_most_of_the_doubt():
    assert named([20, 3], measured={0}) is None


def test_a_certain_sum_has_no_part_to_name():
    assert main_doubt([certain(50), certain(60)], [False, False]) is None
    assert main_doubt([], []) is None


def test_measuring_all_that_are_named_leaves_the_doubt_of_the_others():
    parts = parts_with(3, 18, 20, 3, 5, 19)
    found = main_doubt(parts, [False] * 6)
    rest = total([part if place not in found.parts else certain(100) for place, part in enumerate(parts)])
    assert found.half_width_if_measured == pytest.approx(rest.sensor_half_width, rel=0.01)
