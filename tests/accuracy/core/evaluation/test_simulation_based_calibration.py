"""Fits of the error profiles, calibrated on athletes drawn from their own prior.

The small run of ``benchmarks.calibration``, which shows finer faults with more athletes.
"""

from functools import cache

import numpy as np
import pytest

from accuracy.core.evaluation.simulation_based_calibration import (
    CELL,
    FURTHER,
    RANKED_DRAWS,
    RESIDUAL,
    SLOPE,
    Calibration,
    calibrate,
    worst,
)
from accuracy.core.learning.priors import WRIST
from accuracy.core.learning.wrist_fit import CANDIDATES

FORMS = {form.name: form for form in CANDIDATES}

NAMES = ("constant", "few features", "all features")

SIMULATIONS, BINS = 80, 8

FALSE_ALARM = 0.01 / (2 * len(NAMES))
"""Of one test, so that all together would fail a faultless fit in one of a hundred seeds."""


def ranks(count, *, spread=1.0, shift=0.0, seed=0):
    """Ranks of true values among draws whose spread and centre are off."""
    rng = np.random.default_rng(seed)
    draws = shift + spread * rng.standard_normal((count, RANKED_DRAWS))
    return Calibration(np.sum(draws < rng.standard_normal((count, 1)), axis=1))


@cache
def small_run(name):
    return calibrate(FORMS[name], WRIST, simulations=SIMULATIONS, seed=2)


def found(name, *quantities):
    """Talts et al. 2018; 80 athletes, fixed seed, chi-square over 8 bins, Bonferroni's correction."""
    calibrations = small_run(name)
    return worst({one: calibrations[one] for one in quantities if one in calibrations}, BINS)


@pytest.mark.parametrize("name", NAMES)
def test_ranks_of_slopes_and_further_sessions_are_uniform(name):
    assert found(name, SLOPE, FURTHER) > FALSE_ALARM


@pytest.mark.parametrize("name", NAMES)
def test_ranks_of_cells_and_residual_scales_are_uniform(name):
    assert found(name, CELL, RESIDUAL) > FALSE_ALARM


def test_every_quantity_that_a_form_has_is_ranked():
    assert set(calibrate(FORMS["all features"], WRIST, simulations=1, seed=1)) == {
        CELL,
        SLOPE,
        RESIDUAL,
        FURTHER,
    }
    assert set(calibrate(FORMS["raw"], WRIST, simulations=1, seed=1)) == {RESIDUAL, FURTHER}


def test_a_simulation_is_the_same_however_many_there_are():
    few, more = (calibrate(FORMS["constant"], WRIST, simulations=count, seed=1) for count in (2, 3))
    assert few[CELL].ranks.tolist() == more[CELL].ranks[:2].tolist()


def test_right_draws_pass():
    assert worst({"right": ranks(2000)}, 16) > 0.05
    assert ranks(2000).coverage() == pytest.approx(0.8, abs=0.03)


def test_draws_half_as_wide_as_they_should_be_fail_even_a_small_run():
    assert worst({"narrow": ranks(SIMULATIONS, spread=0.5)}, BINS) < FALSE_ALARM
    assert ranks(2000, spread=0.5).coverage() < 0.6


def test_draws_that_lean_to_one_side_fail_even_a_small_run():
    assert worst({"leaning": ranks(SIMULATIONS, shift=1.0)}, BINS) < FALSE_ALARM


def test_the_more_is_tested_the_less_one_small_p_value_says():
    one = ranks(200, spread=0.8)
    alone, among_four = worst({"a": one}, BINS), worst(dict.fromkeys("abcd", one), BINS)
    assert among_four == pytest.approx(min(1.0, 4 * alone))


def test_histograms_hold_every_rank():
    assert Calibration(np.arange(RANKED_DRAWS + 1)).histogram(16).tolist() == [8] * 16
