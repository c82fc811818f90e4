"""Loads by zones and time by intensity, from shares of a part's time at or above edges."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from accuracy.core.estimates.measures import (
    PartTime,
    minutes_in_bands,
    minutes_in_bands_of_maximum,
    minutes_in_domains,
    rated_load,
    session_rpe_from_load,
    summated_zones,
    three_zones,
    unrecorded_time,
)
from accuracy.core.estimates.rate_shares import MovedShares, RecordedShares
from accuracy.core.estimates.rate_shift import RateCounts, load_of
from trainlog.load.draws import DRAWS, relative_half_width, standard_normals
from trainlog.load.intensity import (
    seconds_in_domains,
    seconds_in_maximum_bands,
    seconds_in_reserve_bands,
)
from trainlog.load.physiology import STAND_IN_ERROR, THRESHOLD_ERROR, PhysiologyDraws
from trainlog.load.trimp import MEN, RATES, histogram, histogram_load
from trainlog.load.zones import summated_zones_per_minute, three_zones_per_minute

CERTAIN = PhysiologyDraws(50, 190, 0, 0, MEN, seed=3)
DOUBTFUL = PhysiologyDraws(50, 190, 3, 10, MEN, seed=3, first_threshold=140, second_threshold=165)

few = settings(max_examples=25)

rates = st.lists(st.integers(40, 220), min_size=5, max_size=40).map(lambda values: np.array(values, float))


def recorded(heart_rate, minutes=None):
    length = len(heart_rate) / 60
    shares = RecordedShares(histogram(heart_rate))
    return PartTime(shares, np.full(DRAWS, length if minutes is None else minutes), length)


def moved_shares(heart_rate, *, stretch=1.0, shift=0.0, shape=0.0, step=1.0):
    base = RateCounts(np.asarray(heart_rate, float), np.ones(len(heart_rate)))
    vectors = (np.broadcast_to(np.asarray(value, float), (DRAWS,)) for value in (stretch, shift))
    return MovedShares(base, step, *vectors, shape, "a session", floor=50.0)


@few
@given(rates)
def test_a_recorded_parts_zones_are_those_of_its_histogram(heart_rate):
    load = summated_zones(recorded(heart_rate), CERTAIN)
    expected = histogram_load(histogram(heart_rate), summated_zones_per_minute(RATES, 190.0))
    assert load.sensor_doubt == pytest.approx(np.full(DRAWS, expected))
    assert load.all_doubt == pytest.approx(load.sensor_doubt)


@few
@given(rates)
def test_with_the_maximum_in_doubt_each_draw_is_the_load_under_its_own_maximum(heart_rate):
    load = summated_zones(recorded(heart_rate), DOUBTFUL)
    weights = summated_zones_per_minute(RATES[None, :], DOUBTFUL.maximum_draws[:, None])
    assert load.all_doubt == pytest.approx(histogram_load(histogram(heart_rate), weights))
    assert np.ptp(load.sensor_doubt) == 0
    assert load.physiology_doubt == pytest.approx(load.all_doubt)


@few
@given(rates)
def test_three_zones_are_those_of_the_histogram_under_each_draw_of_the_thresholds(heart_rate):
    load = three_zones(recorded(heart_rate), DOUBTFUL)
    first, second = DOUBTFUL.threshold_draws.T
    weights = three_zones_per_minute(RATES[None, :], first[:, None], second[:, None])
    assert load.all_doubt == pytest.approx(histogram_load(histogram(heart_rate), weights))


@few
@given(rates)
def test_minutes_by_intensity_are_those_of_the_histogram_and_fill_the_part(heart_rate):
    time = recorded(heart_rate)
    seconds = histogram(heart_rate)
    bands = seconds_in_reserve_bands(seconds, DOUBTFUL.resting_draws, DOUBTFUL.maximum_draws)
    domains = seconds_in_domains(seconds, *DOUBTFUL.threshold_draws.T)
    assert minutes_in_bands(time, DOUBTFUL) == pytest.approx(bands / 60)
    assert minutes_in_domains(time, DOUBTFUL) == pytest.approx(domains / 60)
    of_maximum = seconds_in_maximum_bands(seconds, DOUBTFUL.maximum_draws)
    assert minutes_in_bands_of_maximum(time, DOUBTFUL) == pytest.approx(of_maximum / 60)
    assert minutes_in_bands(time, DOUBTFUL).sum(axis=1) == pytest.approx(np.full(DRAWS, time.length))


def test_missing_minutes_count_for_as_much_as_they_are_drawn():
    half = recorded(np.full(1200, 150.0))
    whole = PartTime(half.shares, half.minutes * np.linspace(1.5, 2.5, DRAWS), 40.0)
    assert summated_zones(whole, CERTAIN).sensor_doubt == pytest.approx(
        summated_zones(half, CERTAIN).sensor_doubt * np.linspace(1.5, 2.5, DRAWS)
    )
    assert minutes_in_domains(whole, CERTAIN).sum(axis=1) == pytest.approx(np.full(DRAWS, 40.0))


@given(rates, st.floats(-20, 20), st.floats(0.6, 1.6), st.floats(60, 200))
def test_moved_shares_are_the_shares_of_the_moved_rates(heart_rate, shift, stretch, edge):
    shares = moved_shares(heart_rate, shift=shift, stretch=stretch, step=1e-6)
    rate = heart_rate.mean() + stretch * (heart_rate - heart_rate.mean()) + shift
    if np.abs(rate - edge).min() < 1e-4:
        return
    assert shares.reaching(np.array([edge]))[0, 0] == pytest.approx(np.mean(rate >= edge), abs=1e-6)


def test_edges_lie_elsewhere_each_by_itself_for_a_sum_and_together_for_shares():
    shares = moved_shares(np.linspace(80, 200, 4000), shape=5.0)
    edges = np.array([110.0, 130.0, 150.0])
    together, apart = shares.reaching(edges).sum(axis=1), shares.edges_reached(edges)
    assert np.median(apart) == pytest.approx(np.median(together), abs=0.01)
    assert np.std(apart) == pytest.approx(np.std(together) / np.sqrt(3), rel=0.1)


def test_an_edge_within_the_step_of_a_rate_parts_its_seconds():
    shares = moved_shares([150.0], step=4.0)
    edges = np.array([148.0, 149.0, 150.0, 152.0])
    assert shares.reaching(edges)[0] == pytest.approx([1.0, 0.75, 0.5, 0.0])


def test_below_the_floor_everything_reaches():
    assert moved_shares([60.0], shift=-40.0).reaching(np.array([50.0]))[0, 0] == 1.0


@given(rates, st.floats(0.5, 1.5))
def test_a_higher_edge_is_never_reached_for_longer(heart_rate, stretch):
    shares = moved_shares(heart_rate, stretch=stretch, shape=4.0, step=3.0)
    reaching = shares.reaching(np.linspace(60, 200, 30))
    assert np.all(np.diff(reaching, axis=1) <= 1e-12)
    assert reaching.min() >= 0
    assert reaching.max() <= 1


def test_more_doubt_of_the_sensor_widens_the_zones_and_not_the_physiologys_vector():
    heart_rate = np.linspace(110, 170, 1800)
    narrow, wide = (
        summated_zones(
            PartTime(
                moved_shares(heart_rate, shift=spread * standard_normals("s")), np.full(DRAWS, 30.0), 30.0
            ),
            DOUBTFUL,
        )
        for spread in (2.0, 8.0)
    )
    assert relative_half_width(wide.sensor_doubt) > 2 * relative_half_width(narrow.sensor_doubt)
    assert relative_half_width(wide.physiology_doubt) == pytest.approx(
        relative_half_width(narrow.physiology_doubt), rel=0.05
    )


def test_a_part_without_a_recording_has_rates_of_the_impulse_drawn_for_it():
    typical = histogram(np.random.default_rng(1).normal(135, 15, 20_000).clip(80, 185))
    impulse = 60 * np.exp(0.2 * standard_normals("i"))
    time = unrecorded_time(impulse, typical, 50.0, CERTAIN)
    shares = time.shares
    rate = shares.base.moved(shares.stretch, shares.shift)
    assert load_of(rate, shares.base.seconds, CERTAIN) == pytest.approx(impulse, rel=0.01)
    assert np.corrcoef(impulse, summated_zones(time, CERTAIN).sensor_doubt)[0, 1] > 0.95


def test_before_any_session_was_measured_an_unrecorded_part_still_has_rates():
    time = unrecorded_time(np.full(DRAWS, 50.0), np.zeros(256), 45.0, CERTAIN)
    minutes = minutes_in_bands(time, CERTAIN)
    assert minutes.sum(axis=1) == pytest.approx(np.full(DRAWS, 45.0))
    assert 0 < summated_zones(time, CERTAIN).sensor_doubt.max() < 5 * 45


def test_a_rating_is_taken_as_it_is():
    load = rated_load(300.0)
    assert load.all_doubt.tolist() == [300.0] * DRAWS


def test_an_unrated_session_is_drawn_from_its_impulse_and_never_beyond_the_scale():
    log_ratio = np.log(0.25) + 0.3 * standard_normals("r")
    load = session_rpe_from_load(np.full(DRAWS, 75.0), log_ratio, 45.0)
    assert np.median(load.all_doubt) == pytest.approx(300, rel=0.01)
    assert load.all_doubt.max() <= 450
    assert np.ptp(load.physiology_doubt) == 0


def test_thresholds_that_a_test_found_are_surer_than_those_that_stand_in():
    tested, standing_in = DOUBTFUL, PhysiologyDraws(50, 190, 3, 0, MEN, seed=3)
    assert np.std(tested.threshold_draws[:, 0]) == pytest.approx(THRESHOLD_ERROR, rel=0.02)
    assert np.std(standing_in.threshold_draws[:, 0]) == pytest.approx(STAND_IN_ERROR, rel=0.02)
    assert standing_in.thresholds == pytest.approx([0.82 * 190, 0.88 * 190])
    for physiology in (tested, standing_in):
        assert np.all(physiology.threshold_draws[:, 0] < physiology.threshold_draws[:, 1])


def test_one_threshold_alone_is_not_used():
    half_known = PhysiologyDraws(50, 190, 0, 0, MEN, seed=3, first_threshold=150)
    assert half_known.thresholds == pytest.approx([0.82 * 190, 0.88 * 190])
