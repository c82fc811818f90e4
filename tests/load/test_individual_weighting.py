import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trainlog.load.individual_weighting import individual_weighting
from trainlog.load.trimp import trimp

RATES = np.array([110.0, 130.0, 150.0, 170.0, 185.0])
LACTATE = np.array([1.2, 1.1, 2.0, 4.1, 8.0])
bounded = settings(derandomize=True, deadline=None, max_examples=50)


def fitted(rates=RATES, lactate=LACTATE, resting=50.0, maximum=190.0):
    return individual_weighting(np.asarray(rates), np.asarray(lactate), resting, maximum)


@bounded
@given(st.floats(0.05, 2), st.floats(0.5, 5))
def test_points_on_a_curve_give_back_the_curve(a, b):
    weighting = fitted(lactate=a * np.exp(b * (RATES - 50) / 140))
    assert (weighting.a, weighting.b) == pytest.approx((a, b), rel=1e-9)


@bounded
@given(st.permutations(range(5)))
def test_the_order_of_the_points_does_not_matter(order):
    weighting = fitted(RATES[list(order)], LACTATE[list(order)])
    assert (weighting.a, weighting.b) == pytest.approx((fitted().a, fitted().b), rel=1e-9)


@bounded
@given(st.floats(0.5, 2))
def test_a_meter_that_reads_high_by_a_factor_changes_the_scale_and_not_the_shape(factor):
    weighting = fitted(lactate=factor * LACTATE)
    assert weighting.b == pytest.approx(fitted().b)
    assert weighting.a == pytest.approx(factor * fitted().a)


def test_an_own_weighting_serves_the_training_impulse_as_a_published_one_does():
    hour = np.full(3600, 150.0)
    own = fitted()
    fraction = 100 / 140
    expected = 60 * fraction * own.a * np.exp(own.b * fraction)
    assert trimp(hour, 50, 190, own) == pytest.approx(expected)


def test_a_dip_at_the_first_stages_is_accepted():
    assert fitted(lactate=[1.5, 1.1, 2.0, 4.1, 8.0]).b > 0


def test_three_points_are_too_few():
    with pytest.raises(ValueError, match="at least 4 points are needed, not 3"):
        fitted(RATES[:3], LACTATE[:3])


@pytest.mark.parametrize(
    "lactate", [[8.0, 4.1, 2.0, 1.1, 1.2], [2.0] * 5, [2.0, 1.0, 1.1, 1.5, 1.9], [2.0, 5.0, 5.0, 0.5, 2.1]]
)
def test_lactate_that_does_not_rise_is_refused(lactate):
    with pytest.raises(ValueError, match="must rise"):
        fitted(lactate=lactate)


def test_points_at_nearly_one_heart_rate_are_refused():
    with pytest.raises(ValueError, match="span at least a fifth"):
        fitted(rates=[150.0, 151.0, 152.0, 153.0, 154.0])


def test_a_heart_rate_without_a_lactate_is_refused():
    with pytest.raises(ValueError, match="needs one lactate"):
        fitted(lactate=LACTATE[:4])


@pytest.mark.parametrize("bad", [0.0, -1.0])
def test_a_lactate_that_is_not_positive_is_refused(bad):
    with pytest.raises(ValueError, match="must be positive"):
        fitted(lactate=[bad, 1.1, 2.0, 4.1, 8.0])


def test_a_missing_value_is_refused():
    with pytest.raises(ValueError, match="must be numbers"):
        fitted(lactate=[np.nan, 1.1, 2.0, 4.1, 8.0])


@pytest.mark.parametrize(("resting", "maximum"), [(115.0, 190.0), (50.0, 180.0)])
def test_a_point_outside_the_reserve_is_refused(resting, maximum):
    with pytest.raises(ValueError, match="between resting and maximum"):
        fitted(resting=resting, maximum=maximum)


def test_a_maximum_below_resting_is_refused_by_the_fit():
    with pytest.raises(ValueError, match="must exceed"):
        fitted(resting=190.0, maximum=50.0)
