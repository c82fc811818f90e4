import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays

from trainlog.load.monotony import monotony, strain

bounded = settings(derandomize=True, deadline=None, max_examples=50)


@pytest.mark.parametrize("load", [0.0, 0.1, 100.0])
def test_monotony_and_strain_of_equal_days_are_undefined_and_not_capped(load):
    week = np.full((7, 2), load)
    assert np.isnan(monotony(week)).all()
    assert np.isnan(strain(week)).all()


def test_nearly_equal_days_have_a_very_large_monotony():
    assert monotony(np.array([[100.0]] * 6 + [[100.1]]))[0] > 1000


@bounded
@given(arrays.arrays(float, (7, 3), elements=st.integers(0, 500).map(float)), st.integers(2, 5))
def test_monotony_has_no_unit_and_strain_has_that_of_the_load(week, factor):
    assert monotony(factor * week) == pytest.approx(monotony(week), nan_ok=True)
    assert strain(factor * week) == pytest.approx(factor * strain(week), nan_ok=True)


def test_monotony_of_one_day_is_refused():
    with pytest.raises(ValueError, match="at least two days"):
        monotony(np.full((1, 4), 100.0))


@pytest.mark.parametrize("bad", [np.nan, np.inf])
@pytest.mark.parametrize("function", [monotony, strain])
def test_a_week_with_a_day_that_is_not_a_number_is_refused(function, bad):
    week = np.full((7, 4), 100.0)
    week[3, 2] = bad
    with pytest.raises(ValueError, match="unknown day is given as draws"):
        function(week)
