import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays

from trainlog.load.impulse_response import days_until_gain, net_response, response, response_average

bounded = settings(derandomize=True, deadline=None, max_examples=50)


def spans(least=1, most=60):
    shape = st.tuples(st.integers(least, most), st.just(4))
    return arrays.arrays(float, shape, elements=st.floats(0, 500))


@bounded
@given(spans(), spans())
def test_responses_of_two_logs_add_up(one, other):
    count = min(len(one), len(other))
    together = response(one[:count] + other[:count], 42)
    assert together == pytest.approx(response(one[:count], 42) + response(other[:count], 42))


def test_a_response_average_of_equal_days_approaches_their_load():
    daily = np.full((600, 1), 100.0)
    for days in (42, 7):
        assert response_average(response(daily, days), days)[-1] == pytest.approx(100, rel=1e-5)


def test_the_net_response_is_the_weighted_difference():
    assert net_response(np.array([10.0]), np.array([4.0]), 1, 2).tolist() == [2]


@pytest.mark.parametrize("constants", [(15, 45, 1, 2), (45, 45, 1, 2), (45, 15, 0, 2), (45, 15, 1, -2)])
def test_impossible_responses_are_refused(constants):
    with pytest.raises(ValueError, match="longer one"):
        days_until_gain(*constants)


@pytest.mark.parametrize("days", [0.0, -7.0, float("nan")])
def test_a_time_constant_that_is_not_positive_is_refused(days):
    with pytest.raises(ValueError, match="must be positive"):
        response(np.zeros((2, 2)), days)
    with pytest.raises(ValueError, match="must be positive"):
        response_average(np.zeros((2, 2)), days)
