import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays

from trainlog.load.draws import DRAWS, standard_normals
from trainlog.load.intensity import (
    BANDS_OF_MAXIMUM,
    BANDS_OF_RESERVE,
    DOMAINS,
    seconds_in_domains,
    seconds_in_maximum_bands,
    seconds_in_reserve_bands,
)
from trainlog.load.trimp import histogram

bounded = settings(derandomize=True, deadline=None, max_examples=50)
rates = arrays.arrays(float, st.integers(1, 300), elements=st.floats(30, 230))


@pytest.mark.parametrize("bands", [BANDS_OF_RESERVE, BANDS_OF_MAXIMUM])
def test_bands_leave_no_gap_and_overlap_nowhere(bands):
    assert [high for _, _, high in bands[:-1]] == [low for _, low, _ in bands[1:]]
    assert (bands[0][1], bands[-1][2]) == (-np.inf, np.inf)


@bounded
@given(rates)
def test_the_seconds_of_all_bands_are_the_recorded_seconds(heart_rate):
    seconds = histogram(heart_rate)
    for in_bands in (
        seconds_in_reserve_bands(seconds, 50.0, 190.0),
        seconds_in_maximum_bands(seconds, 190.0),
        seconds_in_domains(seconds, 140.0, 165.0),
    ):
        assert in_bands.sum() == pytest.approx(len(heart_rate))
        assert np.all(in_bands >= 0)


def test_a_band_of_reserve_holds_its_lower_edge_and_not_its_upper_one():
    on_edges = histogram(np.array([90.0, 100.0, 120.0, 150.0]))
    below = histogram(np.array([89.0, 99.0, 119.0, 149.0]))
    assert seconds_in_reserve_bands(on_edges, 60.0, 160.0).tolist() == [0, 1, 1, 1, 1]
    assert seconds_in_reserve_bands(below, 60.0, 160.0).tolist() == [1, 1, 1, 1, 0]


def test_a_band_of_maximum_holds_its_lower_edge_and_not_its_upper_one():
    on_edges = histogram(np.array([114.0, 128.0, 154.0, 192.0]))
    below = histogram(np.array([113.0, 127.0, 153.0, 191.0]))
    assert seconds_in_maximum_bands(on_edges, 200.0).tolist() == [0, 1, 1, 1, 1]
    assert seconds_in_maximum_bands(below, 200.0).tolist() == [1, 1, 1, 1, 0]


def test_the_same_second_may_be_in_different_bands_of_reserve_and_of_maximum():
    second = histogram(np.array([154.0]))
    by_reserve = seconds_in_reserve_bands(second, 90.0, 200.0)
    by_maximum = seconds_in_maximum_bands(second, 200.0)
    assert BANDS_OF_RESERVE[int(np.argmax(by_reserve))][0] == "moderate"
    assert BANDS_OF_MAXIMUM[int(np.argmax(by_maximum))][0] == "vigorous"


def test_draws_of_the_physiology_give_draws_of_the_time_in_each_band():
    seconds = histogram(np.full(600, 134.0))
    resting, maximum = 50 + 3 * standard_normals("resting"), 190 + 8 * standard_normals("maximum")
    in_bands = seconds_in_reserve_bands(seconds, resting, maximum)
    assert in_bands.shape == (DRAWS, len(BANDS_OF_RESERVE))
    assert in_bands[:, 2].mean() == pytest.approx(300, abs=60)
    assert seconds_in_maximum_bands(seconds, maximum).shape == (DRAWS, len(BANDS_OF_MAXIMUM))


def test_draws_of_the_thresholds_give_draws_of_the_time_in_each_domain():
    seconds = histogram(np.full(600, 150.0))
    shift = 4 * standard_normals("thresholds")
    in_domains = seconds_in_domains(seconds, 150 + shift, 170 + shift)
    assert in_domains.shape == (DRAWS, len(DOMAINS))
    assert in_domains.sum(axis=1) == pytest.approx(np.full(DRAWS, 600.0))
    assert in_domains[:, 1].mean() == pytest.approx(300, abs=30)


def test_bands_of_impossible_bounds_are_refused():
    seconds = histogram(np.array([120.0]))
    with pytest.raises(ValueError, match="must exceed"):
        seconds_in_reserve_bands(seconds, 190.0, 190.0)
    with pytest.raises(ValueError, match="positive"):
        seconds_in_maximum_bands(seconds, 0.0)
    with pytest.raises(ValueError, match="below the second"):
        seconds_in_domains(seconds, 165.0, 140.0)
