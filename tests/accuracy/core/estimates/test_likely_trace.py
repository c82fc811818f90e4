"""Mean, peak, time in bands and the trace of a wrist-only part agree with the load drawn for it."""

import json
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from accuracy.core.estimates.leftovers import (
    LOG_STRETCH,
    PEAK,
    Expected,
    Leftover,
    as_json,
    coefficients_of,
    from_json,
    learn_leftovers,
)
from accuracy.core.estimates.likely_trace import BAND_EDGES, expected_error, likely_band, likely_rates
from accuracy.core.estimates.rate_shift import RateCounts, load_of, shift_to_load
from accuracy.core.evaluation.simulate_athletes import SENSOR_TROUBLE, simulate_athlete
from accuracy.core.evaluation.simulated_log import Setting, pair_of, trial_of
from accuracy.core.evaluation.simulated_rates import FIGURES, evaluate_rates, table
from accuracy.core.learning.priors import FAMILIES
from accuracy.core.learning.profile import Cell
from accuracy.core.learning.trace_model import TERMS, corrected_rates
from accuracy.core.learning.wrist_fit import WristSession, learn_wrist
from accuracy.core.traces.artefacts import flag
from accuracy.core.traces.states import states_of
from trainlog.load.draws import DRAWS, standard_normals
from trainlog.load.physiology import PhysiologyDraws
from trainlog.load.trimp import MEN, trimp

SECONDS = 3000
PHYSIOLOGY = PhysiologyDraws(50, 190, 0, 0, MEN, seed=3)
NOTHING = Expected(0.0, 0.0, 5.0)
NO_DOUBT = dict.fromkeys(FAMILIES, Leftover(NOTHING, NOTHING, 0.0, 0.0))
NO_RATIO = np.zeros(DRAWS)


def waves():
    """Five hard minutes after five easy ones, over and over."""
    return np.round(135 + 30 * np.sin(np.arange(SECONDS) * 2 * np.pi / 600))


def session(heart_rate, content="a", activity="run"):
    flags = flag(heart_rate, principle="optical")
    cell = Cell("wrist", "", "steady", activity)
    return WristSession(cell, content, np.zeros(0), states_of(heart_rate, flags), PHYSIOLOGY)


@cache
def learned():
    """Fit of an athlete's four pairs of two activities, and a wrist-only trial of each."""
    athlete = simulate_athlete(5, broad=False, switched_on=SENSOR_TROUBLE)
    physiology = PhysiologyDraws(athlete.resting, athlete.maximum, 0, 0, athlete.weighting, 5)
    worn = [(activity, place) for activity in ("run", "lifting") for place in range(4)]
    pairs = [pair_of(athlete.session(*one), physiology) for one in worn]
    fit, _ = learn_wrist(pairs, seed=5)
    alone = [athlete.session(activity, 1000, paired=False) for activity in ("run", "lifting")]
    return fit, pairs, [(one, trial_of(one, physiology)) for one in alone]


@cache
def faultless_fit():
    fit, _ = learn_wrist([], seed=3)
    return replace(fit, trace_coefficients={"": np.zeros(TERMS)})


def drawn(place):
    """Wrist-only session of the learned athlete, draws of its log ratio, and its likely rates."""
    fit, pairs, alone = learned()
    simulated, trial = alone[place]
    log_ratio = fit.further_session(trial.session)
    rates = likely_rates(
        trial.session, log_ratio, fit, learn_leftovers(pairs, fit), seconds=len(simulated.truth)
    )
    return trial.session, log_ratio, rates


def expected_of(one):
    fit, _, _ = learned()
    return corrected_rates(one.states, coefficients_of(one.cell.group, fit), one.physiology)


@pytest.mark.parametrize("place", [0, 1])
def test_the_load_of_the_drawn_rates_is_the_drawn_load(place):
    one, log_ratio, rates = drawn(place)
    recorded = load_of(one.states.rate, one.states.seconds, one.physiology)
    loads = load_of(rates.moved(expected_of(one)), one.states.seconds, one.physiology)
    assert np.log(loads / recorded) == pytest.approx(log_ratio, abs=0.005)


def test_the_mean_is_that_of_the_drawn_rates_draw_by_draw():
    one, _, rates = drawn(1)
    weights = one.states.seconds / one.states.seconds.sum()
    assert rates.mean == pytest.approx(rates.moved(expected_of(one)) @ weights)


def test_the_more_load_the_higher_the_mean():
    _, log_ratio, rates = drawn(0)
    assert np.corrcoef(log_ratio, rates.mean)[0, 1] > 0.9


def test_the_peak_is_never_below_the_mean():
    _, _, rates = drawn(1)
    assert np.all(rates.peak >= rates.mean)


@pytest.mark.parametrize("place", [0, 1])
def test_the_bands_share_out_the_whole_part_in_every_draw(place):
    _, _, rates = drawn(place)
    minutes = len(learned()[2][place][0].truth) / 60
    assert rates.minutes_in_band.shape == (DRAWS, len(BAND_EDGES) + 1)
    assert rates.minutes_in_band.min() >= -1e-9
    assert rates.minutes_in_band.sum(axis=1) == pytest.approx(np.full(DRAWS, minutes))


def test_without_doubt_of_their_shape_the_bands_are_those_of_the_drawn_rates():
    one = session(waves())
    rates = likely_rates(one, 0.1 * standard_normals("b"), faultless_fit(), NO_DOUBT, seconds=SECONDS)
    high = rates.moved(one.states.rate) >= 50 + 0.6 * 140
    minutes = high @ one.states.seconds / 60
    assert rates.minutes_in_band[:, 3:].sum(axis=1) == pytest.approx(minutes, abs=3)
    assert np.corrcoef(rates.minutes_in_band[:, 3:].sum(axis=1), minutes)[0, 1] > 0.98


def test_a_wrist_without_error_or_doubt_gives_back_its_own_mean_peak_and_bands():
    heart_rate = waves()
    rates = likely_rates(session(heart_rate), NO_RATIO, faultless_fit(), NO_DOUBT, seconds=SECONDS)
    assert rates.mean == pytest.approx(np.full(DRAWS, heart_rate.mean()), abs=0.05)
    assert rates.peak == pytest.approx(np.full(DRAWS, 165), abs=1.5)
    moderate = np.sum((heart_rate >= 50 + 0.4 * 140) & (heart_rate < 50 + 0.6 * 140)) / 60
    assert rates.minutes_in_band[:, 2] == pytest.approx(np.full(DRAWS, moderate), abs=1)


def test_a_wrist_without_error_or_doubt_gives_back_its_own_trace():
    heart_rate = waves()
    rates = likely_rates(session(heart_rate), NO_RATIO, faultless_fit(), NO_DOUBT, seconds=SECONDS)
    flags = flag(heart_rate, principle="optical")
    for bound in likely_band(heart_rate, flags, PHYSIOLOGY, np.zeros(TERMS), rates):
        assert bound == pytest.approx(heart_rate, abs=0.1)


def test_missing_seconds_are_held_to_be_like_the_recorded_ones():
    whole, holed = waves(), waves()
    holed[1200:1800] = np.nan
    full = likely_rates(session(whole), NO_RATIO, faultless_fit(), NO_DOUBT, seconds=SECONDS)
    part = likely_rates(session(holed), NO_RATIO, faultless_fit(), NO_DOUBT, seconds=SECONDS)
    assert part.mean == pytest.approx(full.mean, abs=0.1)
    assert part.minutes_in_band == pytest.approx(full.minutes_in_band, abs=0.3)


def test_a_part_without_a_reading_is_refused():
    nothing = session(np.full(600, np.nan))
    with pytest.raises(ValueError, match="no rates to go by"):
        likely_rates(nothing, NO_RATIO, faultless_fit(), NO_DOUBT, seconds=600)


def test_the_same_session_gives_the_same_draws():
    first, second = drawn(0)[2], drawn(0)[2]
    assert np.array_equal(first.peak, second.peak)
    assert np.array_equal(first.minutes_in_band, second.minutes_in_band)


def test_what_load_leaves_open_differs_from_session_to_session():
    left = learn_leftovers([], faultless_fit())
    first, second = (
        likely_rates(session(waves(), content), NO_RATIO, faultless_fit(), left, seconds=SECONDS).peak
        for content in ("a", "b")
    )
    assert abs(np.corrcoef(first, second)[0, 1]) < 0.2


def test_no_draw_leaves_the_rates_of_a_heart_at_work():
    wild = likely_rates(
        session(waves()), 3 * standard_normals("wild"), faultless_fit(), NO_DOUBT, seconds=SECONDS
    )
    assert wild.mean.min() >= 30
    assert wild.peak.max() <= 230


def test_a_wrist_below_resting_throughout_still_has_rates():
    asleep = likely_rates(session(np.full(900, 45.0)), NO_RATIO, faultless_fit(), NO_DOUBT, seconds=900)
    assert np.isfinite(asleep.mean).all()


def test_a_shift_is_found_again_from_the_load_it_makes():
    base = RateCounts(np.array([90.0, 120.0, 150.0]), np.array([600.0, 900.0, 300.0]))
    shifts, stretch = np.linspace(-20, 30, 11), np.linspace(0.8, 1.6, 11)
    loads = load_of(base.moved(stretch, shifts), base.seconds, PHYSIOLOGY)
    assert shift_to_load(base, stretch, loads, PHYSIOLOGY) == pytest.approx(shifts, abs=0.2)


def test_a_shift_is_the_same_to_the_bit_whatever_stretches_other_draws_have():
    base = RateCounts(waves(), np.ones(SECONDS))
    stretch = np.exp(0.05 * standard_normals("narrow"))
    load = load_of(base.rate, base.seconds, PHYSIOLOGY) * np.exp(0.1 * standard_normals("load"))
    alone = shift_to_load(base, stretch, load, PHYSIOLOGY)
    among = shift_to_load(base, np.append(stretch, [0.5, 2.0]), np.append(load, load[:2]), PHYSIOLOGY)
    assert alone.tobytes() == among[:DRAWS].tobytes()


def test_the_peak_is_the_rate_that_five_seconds_reach():
    base = RateCounts(np.array([150.0, 180.0, 175.0]), np.array([600.0, 2.0, 3.0]))
    assert base.peak == 175


def test_the_band_of_the_trace_has_about_the_median_load():
    fit, _, alone = learned()
    one, log_ratio, rates = drawn(0)
    simulated = alone[0][0]
    flags = flag(simulated.tested, principle="optical", cadence=simulated.cadence)
    coefficients = coefficients_of(one.cell.group, fit)
    low, middle, high = likely_band(simulated.tested, flags, one.physiology, coefficients, rates)
    bounds = (one.physiology.resting, one.physiology.maximum, one.physiology.weighting)
    likely = trimp(simulated.tested, *bounds) * np.exp(np.median(log_ratio))
    assert trimp(middle, *bounds) == pytest.approx(likely, rel=0.03)
    recorded = np.isfinite(simulated.tested)
    assert np.all((low < middle)[recorded] & (middle < high)[recorded])
    assert np.isnan(middle[~recorded]).all()


def test_no_step_shows_in_the_expected_error_of_a_level_trace():
    level = np.full(1200, 130.0) + np.sin(np.arange(1200))
    coefficients = np.array([2.0, 1.0, 0.0, 3.0, -3.0, 12.0, 6.0, 0.0, 0.0])
    error = expected_error(level, flag(level, principle="optical"), PHYSIOLOGY, coefficients)
    assert np.ptp(error) > 8
    assert np.abs(np.diff(error)).max() < 1


def test_a_stray_of_seconds_widens_the_band_and_leaves_its_middle():
    heart_rate = waves()
    rates = likely_rates(session(heart_rate), NO_RATIO, faultless_fit(), NO_DOUBT, seconds=SECONDS)
    flags = flag(heart_rate, principle="optical")
    low, middle, high = likely_band(
        heart_rate, flags, PHYSIOLOGY, np.zeros(TERMS), replace(rates, stray=10.0)
    )
    assert high - middle == pytest.approx(np.full(SECONDS, 12.8), abs=0.1)
    assert middle - low == pytest.approx(np.full(SECONDS, 12.8), abs=0.1)
    assert middle == pytest.approx(heart_rate, abs=0.1)


def test_without_pairs_what_is_left_over_is_what_was_expected():
    left = learn_leftovers([], faultless_fit())["mixed"]
    assert (left.log_stretch.centre, left.peak.centre) == (LOG_STRETCH.centre, PEAK.centre)


def test_few_pairs_draw_only_part_of_the_way_from_what_was_expected():
    one, eight = (PEAK.after(np.full(count, 12.0)) for count in (1, 8))
    assert one.centre == pytest.approx(7)
    assert one.centre < eight.centre < 12


def test_pairs_that_agree_narrow_what_is_left_over():
    scales = [PEAK.after(np.linspace(1.5, 2.5, count)).scale for count in (2, 6, 20)]
    assert scales == sorted(scales, reverse=True)


def test_what_is_left_over_does_not_depend_on_the_order_of_pairs():
    fit, pairs, _ = learned()
    assert learn_leftovers(pairs, fit) == learn_leftovers(pairs[::-1], fit)


def test_what_is_left_over_comes_back_from_its_figures():
    fit, pairs, _ = learned()
    left = learn_leftovers(pairs, fit)
    assert from_json(json.loads(json.dumps(as_json(left)))) == left


def test_a_fit_that_kept_nothing_left_over_gives_what_is_expected_before_any_pair():
    assert from_json({}) == learn_leftovers([], faultless_fit())


def test_seconds_stray_further_in_lifting_than_in_running():
    fit, pairs, _ = learned()
    left = learn_leftovers(pairs, fit)
    assert left["resistance"].stray > left["steady"].stray


def test_corrected_mean_and_peak_are_nearer_than_the_wrists_own():
    setting = Setting(broad=False, switched_on=SENSOR_TROUBLE, pair_counts=(4,))
    rows = [row for seed in (21, 22, 23) for row in evaluate_rates(seed, setting, further=3)]
    figures = table(rows).loc[list(FIGURES)]
    assert (figures["corrected"] < figures["raw"]).all()
