import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays

from trainlog.load.draws import DRAWS, standard_normals
from trainlog.load.trimp import RATES, histogram, histogram_load
from trainlog.load.zones import (
    summated_zones_per_minute,
    three_zones_per_minute,
    thresholds_from_maximum,
)

bounded = settings(derandomize=True, deadline=None, max_examples=50)
whole_rates = arrays.arrays(float, st.integers(1, 300), elements=st.integers(30, 230).map(float))


@pytest.mark.parametrize("maximum", [160.0, 170.0, 180.0, 190.0, 200.0, 210.0])
def test_a_summated_zone_holds_its_lower_edge_and_not_its_upper_one(maximum):
    edges = maximum * np.array([5, 6, 7, 8, 9]) / 10
    assert summated_zones_per_minute(edges, maximum).tolist() == [1, 2, 3, 4, 5]
    assert summated_zones_per_minute(edges - 1e-9, maximum).tolist() == [0, 1, 2, 3, 4]


def test_a_rate_above_the_entered_maximum_counts_in_the_fifth_zone():
    assert summated_zones_per_minute(np.array([220.0]), 200.0).tolist() == [5]


def test_a_rate_at_a_threshold_counts_in_the_zone_above_it():
    rates = np.array([139.9, 140.0, 164.9, 165.0])
    assert three_zones_per_minute(rates, 140.0, 165.0).tolist() == [1, 2, 2, 3]


def test_an_unknown_rate_has_an_unknown_weight():
    unknown = np.array([np.nan])
    assert np.isnan(summated_zones_per_minute(unknown, 200.0)).all()
    assert np.isnan(three_zones_per_minute(unknown, 140.0, 165.0)).all()


@bounded
@given(whole_rates)
def test_the_zone_load_of_a_histogram_of_whole_rates_is_that_of_the_trace(heart_rate):
    seconds = histogram(heart_rate)
    by_tenths = histogram_load(seconds, summated_zones_per_minute(RATES, 200.0))
    assert by_tenths == pytest.approx(summated_zones_per_minute(heart_rate, 200.0).sum() / 60)
    by_thresholds = histogram_load(seconds, three_zones_per_minute(RATES, 140.0, 165.0))
    assert by_thresholds == pytest.approx(three_zones_per_minute(heart_rate, 140.0, 165.0).sum() / 60)


@bounded
@given(whole_rates, st.floats(0, 20))
def test_a_higher_heart_rate_never_weighs_less_in_zones(heart_rate, more):
    assert np.all(
        summated_zones_per_minute(heart_rate + more, 200.0) >= summated_zones_per_minute(heart_rate, 200.0)
    )
    assert np.all(
        three_zones_per_minute(heart_rate + more, 140.0, 165.0)
        >= three_zones_per_minute(heart_rate, 140.0, 165.0)
    )


def test_draws_of_the_maximum_give_as_many_zone_loads():
    maximum = 190 + 5 * standard_normals("maximum")
    weights = summated_zones_per_minute(RATES[None, :], maximum[:, None])
    loads = histogram_load(histogram(np.full(600, 150.0)), weights)
    assert weights.shape == (DRAWS, 256)
    assert loads.shape == (DRAWS,)
    assert set(np.round(loads, 9)) == {30.0, 40.0}


def test_draws_of_the_thresholds_give_as_many_zone_loads():
    shift = 5 * standard_normals("thresholds")[:, None]
    weights = three_zones_per_minute(RATES[None, :], 140 + shift, 165 + shift)
    assert weights.shape == (DRAWS, 256)


@pytest.mark.parametrize("maximum", [0.0, -180.0, float("nan")])
def test_zones_of_a_maximum_that_is_not_positive_are_refused(maximum):
    with pytest.raises(ValueError, match="positive"):
        summated_zones_per_minute(RATES, maximum)
    with pytest.raises(ValueError, match="positive"):
        thresholds_from_maximum(maximum)


@pytest.mark.parametrize(("first", "second"), [(165.0, 140.0), (150.0, 150.0), (0.0, 150.0)])
def test_thresholds_out_of_order_are_refused(first, second):
    with pytest.raises(ValueError, match="below the second"):
        three_zones_per_minute(RATES, first, second)


def test_a_single_bad_draw_of_a_threshold_is_refused():
    with pytest.raises(ValueError, match="below the second"):
        three_zones_per_minute(RATES, np.array([[140.0], [170.0]]), 165.0)


def test_estimated_thresholds_keep_the_shape_of_the_maximum():
    first, second = thresholds_from_maximum(np.array([180.0, 200.0]))
    assert first == pytest.approx([147.6, 164.0])
    assert second == pytest.approx([158.4, 176.0])
