"""Ratios of loads: their limits are made on logarithms."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from accuracy.report.loads import load_finding, ratio_limits

RATIOS = [0.8, 0.9, 1.0, 1.1]


def factor(per_cent):
    return 1 + per_cent / 100


def test_the_mean_is_geometric():
    assert factor(ratio_limits(RATIOS).mean.value) == pytest.approx((0.8 * 0.9 * 1.0 * 1.1) ** 0.25)


def test_the_limits_lie_196_standard_deviations_of_the_logarithms_away():
    logs = np.log(RATIOS)
    reach = 1.96 * logs.std(ddof=1)
    found = ratio_limits(RATIOS)
    assert factor(found.lower) == pytest.approx(np.exp(logs.mean() - reach))
    assert factor(found.upper) == pytest.approx(np.exp(logs.mean() + reach))


def test_the_interval_of_the_mean_is_students_over_sessions():
    """3.182 is the 97.5% point of Student's t with three degrees of freedom (any table)."""
    logs = np.log(RATIOS)
    reach = 3.182 * logs.std(ddof=1) / 2
    assert factor(ratio_limits(RATIOS).mean.low) == pytest.approx(np.exp(logs.mean() - reach), rel=1e-4)


@given(st.lists(st.floats(0.3, 3), min_size=3, max_size=20))
def test_which_sensor_is_divided_by_which_does_not_matter(ratios):
    there, back = ratio_limits(ratios), ratio_limits([1 / one for one in ratios])
    assert factor(there.mean.value) * factor(back.mean.value) == pytest.approx(1)
    assert factor(there.lower) * factor(back.upper) == pytest.approx(1)


@pytest.mark.parametrize("sessions", [1, 2])
def test_with_fewer_than_three_sessions_there_is_a_mean_and_a_range_alone(sessions):
    assert ratio_limits(RATIOS[:sessions]) is None
    found = load_finding(RATIOS[:sessions])
    assert not found.mean.known
    assert found.lowest == pytest.approx(-20)


def test_without_a_load_nothing_is_found():
    assert load_finding([]) is None
