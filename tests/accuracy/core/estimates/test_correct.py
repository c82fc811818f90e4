"""From a recording and draws of its error to draws of load."""

import numpy as np
import pytest

from accuracy.core.estimates import correct
from accuracy.core.estimates.correct import Recorded
from trainlog.load.draws import DRAWS, standard_normals
from trainlog.load.physiology import PhysiologyDraws
from trainlog.load.trimp import MEN, histogram, trimp

EXACT = PhysiologyDraws(50, 190, 0, 0, MEN, seed=3)
DOUBTFUL = PhysiologyDraws(50, 190, 3, 10, MEN, seed=3)


def recorded(minutes=60, missing_minutes=0, content="a", bpm=150.0):
    seconds = minutes * 60
    valid = seconds - missing_minutes * 60
    return Recorded(histogram(np.full(valid, bpm)), seconds, valid, content)


def test_a_recording_without_doubt_has_the_published_load():
    load = correct.recorded_load(recorded(), np.ones(DRAWS), EXACT)
    assert load.all_doubt == pytest.approx(np.full(DRAWS, trimp(np.full(3600, 150.0), 50, 190, MEN)))


def test_doubt_of_the_physiology_stays_out_of_the_sensors_draws():
    load = correct.recorded_load(recorded(), np.ones(DRAWS), DOUBTFUL)
    assert np.ptp(load.sensor_doubt) == 0
    assert np.std(load.physiology_doubt) > 5


def test_doubt_of_the_sensor_stays_out_of_the_physiologys_draws():
    factor = np.exp(0.2 * standard_normals("sensor"))
    load = correct.recorded_load(recorded(), factor, EXACT)
    assert np.ptp(load.physiology_doubt) == 0
    assert np.std(np.log(load.sensor_doubt)) == pytest.approx(0.2, rel=0.02)


def test_the_same_physiology_moves_every_session_alike():
    first = correct.recorded_load(recorded(content="a"), np.ones(DRAWS), DOUBTFUL).all_doubt
    second = correct.recorded_load(recorded(content="b", bpm=120.0), np.ones(DRAWS), DOUBTFUL).all_doubt
    assert np.corrcoef(first, second)[0, 1] > 0.95


def test_a_gap_is_unknown_load_and_not_rest():
    whole, holed = recorded(), recorded(missing_minutes=15)
    full = correct.recorded_load(whole, correct.gap_factor(whole), EXACT).all_doubt
    drawn = correct.recorded_load(holed, correct.gap_factor(holed), EXACT).all_doubt
    assert np.median(drawn) == pytest.approx(np.median(full), rel=0.01)
    assert np.std(drawn) > 0.05 * np.median(drawn) > np.std(full)


def test_the_longer_the_gap_the_wider_the_load():
    spreads = [
        np.std(correct.gap_factor(recorded(missing_minutes=m)) / (60 / (60 - m))) for m in (0, 5, 20, 30)
    ]
    assert spreads == sorted(spreads)


def test_a_part_without_one_valid_second_has_no_gap_factor():
    with pytest.raises(ValueError, match="no load to go by"):
        correct.gap_factor(recorded(missing_minutes=60))


def test_a_load_left_as_it_stands_owes_the_shift_it_does_not_make_as_doubt():
    log_ratio = 0.06 + 0.05 * standard_normals("error")
    left = correct.as_it_stands(log_ratio)
    assert np.median(left) == pytest.approx(0, abs=1e-3)
    assert np.mean(left**2) == pytest.approx(np.mean(log_ratio**2), rel=0.01)


def test_a_reported_load_carries_the_doubt_of_the_physiology_too():
    typical = histogram(np.full(3600, 140.0))
    load = correct.unrecorded_load(300.0, np.full(DRAWS, 0.35), typical, DOUBTFUL)
    assert np.ptp(load.sensor_doubt) == pytest.approx(0, abs=1e-9)
    assert np.median(load.all_doubt) == pytest.approx(105, rel=0.03)
    assert np.std(load.physiology_doubt) > 5


def test_without_any_measured_session_a_reported_load_rests_on_the_factor_alone():
    load = correct.unrecorded_load(300.0, np.full(DRAWS, 0.35), np.zeros(256), DOUBTFUL)
    assert load.all_doubt == pytest.approx(np.full(DRAWS, 105.0))
