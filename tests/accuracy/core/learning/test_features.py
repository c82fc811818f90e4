"""What a wrist-only session tells of its own error."""

from dataclasses import replace

import numpy as np
import pytest

from accuracy.core.learning.features import FEATURES, FEW, OF_TRACE, SCALES, Texture, features_of, texture_of
from accuracy.core.traces.states import AT_START, AT_STEP_RATE, States
from trainlog.load.physiology import PhysiologyDraws
from trainlog.load.trimp import MEN, load_per_minute

PLAIN = Texture(1.0, None)

BODY = PhysiologyDraws(50.0, 190.0, 0.0, 0.0, MEN, 1)


def states(rate, seconds, *, slope=2, early=3, flagged=0):
    def filled(value):
        return np.broadcast_to(np.asarray(value, dtype=np.int64), np.shape(rate)).copy()

    return States(
        np.array(rate, dtype=float),
        filled(slope),
        filled(early),
        filled(flagged),
        np.array(seconds, dtype=float),
        np.full(len(rate), np.nan),
    )


def features(of=None, *, texture=PLAIN, minutes=60.0, rpe=None):
    """Features by name, in their own units again."""
    found = features_of(states([120.0], [3600]) if of is None else of, texture, minutes, rpe, BODY)
    return {name: found[place] * SCALES[name] for place, name in enumerate(FEATURES)}


def test_load_is_the_log_of_the_load_a_minute():
    assert features()["load"] == pytest.approx(np.log(load_per_minute(np.array([120.0]), 50, 190, MEN)[0]))


def test_level_and_spread_are_shares_of_the_reserve():
    found = features(states([106.0, 134.0], [1800, 1800]))
    assert found["level"] == pytest.approx(0.5)
    assert found["spread"] == pytest.approx(0.1)


def test_peaks_are_where_the_highest_twentieth_of_the_time_begins():
    assert features(states([120.0, 176.0], [3500, 100]))["peaks"] == pytest.approx(0.5)
    assert features(states([120.0, 176.0], [3300, 300]))["peaks"] == pytest.approx(0.9)


def test_unflagged_load_is_above_zero_where_the_flagged_seconds_read_low():
    low = features(states([100.0, 140.0], [600, 3000], flagged=[AT_STEP_RATE, 0]))
    high = features(states([160.0, 140.0], [600, 3000], flagged=[AT_STEP_RATE, 0]))
    assert low["unflagged load"] > 0 > high["unflagged load"]


def test_unflagged_load_says_nothing_where_nearly_all_is_flagged():
    assert features(states([100.0, 140.0], [3590, 10], flagged=[AT_STEP_RATE, 0]))["unflagged load"] == 0


def test_start_is_above_zero_where_the_first_minutes_read_low():
    assert features(states([90.0, 140.0], [180, 3420], early=[1, 3]))["start"] > 0
    assert features(states([140.0, 140.0], [180, 3420], early=[1, 3]))["start"] == pytest.approx(0)


def test_rises_grow_with_the_share_of_fast_rises():
    found = features(states([120.0, 140.0], [3420, 180], slope=[2, 4]))
    assert found["rises"] == pytest.approx(np.log(0.02 + 0.05))


def test_length_is_the_log_of_the_minutes():
    assert features(minutes=90.0)["length"] == pytest.approx(np.log(90))


def test_flagged_time_is_a_share():
    found = features(states([120.0, 120.0, 120.0], [360, 900, 2340], flagged=[AT_START, AT_STEP_RATE, 0]))
    assert found["flagged at start"] == pytest.approx(0.1)
    assert found["flagged at step rate"] == pytest.approx(0.25)


def test_roughness_is_the_log_of_the_textures():
    assert features(texture=Texture(2.5, None))["roughness"] == pytest.approx(np.log(2.5))


def test_rating_is_the_log_of_rated_over_measured_load():
    by_rate = load_per_minute(np.array([120.0]), 50, 190, MEN)[0]
    assert features(rpe=6.0)["rating"] == pytest.approx(np.log(6.0 / by_rate))


def test_an_unknown_rating_or_cadence_is_not_a_number():
    found = features()
    assert np.isnan(found["rating"])
    assert np.isnan(found["cadence"])
    assert all(np.isfinite(found[name]) for name in FEATURES if name not in ("rating", "cadence"))


def test_a_cadence_is_kept():
    assert features(texture=Texture(1.0, 171.0))["cadence"] == pytest.approx(171.0)


def test_a_session_without_a_reading_has_no_features():
    assert np.isnan(features_of(states([], []), Texture(0.0, None), 60.0, 5.0, BODY)).all()


def test_how_the_seconds_are_split_into_states_changes_nothing():
    whole = states([120.0, 150.0], [3000, 600])
    split = states([150.0, 120.0, 120.0], [600, 1000, 2000])
    assert features(split) == pytest.approx(features(whole), nan_ok=True)


def test_twice_the_seconds_of_every_state_change_nothing_but_what_the_minutes_say():
    one = states([120.0, 150.0], [3000, 600])
    assert features(replace(one, seconds=2 * one.seconds)) == pytest.approx(features(one), nan_ok=True)


def test_few_features_and_those_of_the_trace_lead_the_list():
    assert FEATURES[: len(FEW)] == FEW
    assert FEATURES[: len(OF_TRACE)] == OF_TRACE
    assert FEATURES[-1] == "rating"


def test_a_jagged_trace_is_rougher_than_a_smooth_one_at_any_level():
    rng = np.random.default_rng(1)
    smooth = 130 + 20 * np.sin(np.arange(1200) / 100)
    jagged = smooth + rng.normal(0, 3, 1200)
    assert texture_of(jagged, None).roughness > 5 * texture_of(smooth, None).roughness
    assert texture_of(jagged + 30, None).roughness == pytest.approx(texture_of(jagged, None).roughness)


def test_gaps_and_standing_still_do_not_count_in_texture():
    trace, cadence = np.full(100, 120.0), np.full(100, 170.0)
    trace[20:40], cadence[20:40], cadence[60:70] = np.nan, np.nan, 0.0
    assert texture_of(trace, cadence) == Texture(0.0, 170.0)


def test_no_step_makes_no_cadence():
    assert texture_of(np.full(100, 120.0), np.zeros(100)).mean_cadence is None
