"""Banister's training impulse.

Published: the formula, minutes x fraction of reserve x weight, and the constants of the weight, 0.64 and
1.92 for men, 0.86 and 1.67 for women. Banister EW (1991), in MacDougall, Wenger & Green (eds), Physiological
Testing of the High-Performance Athlete, from memory and as secondary sources repeat it. No published worked
example was found: every load below is our own regression value, computed from those constants apart from
this code.
"""

import numpy as np
import pytest

from trainlog.load.trimp import MEN, WOMEN, Weighting, load_per_minute, trimp

OUR_VALUES_PER_MINUTE = [
    # fraction of reserve, men, women
    (0.0, 0.0, 0.0),
    (0.25, 0.2585719044, 0.3264047018),
    (0.5, 0.8357428715, 0.9910700408),
    (0.6, 1.2151739966, 1.4054414975),
    (0.7, 1.7177889221, 1.9377008983),
    (0.75, 2.0259339922, 2.2569064267),
    (0.8, 2.3787362186, 2.6170129160),
    (0.9, 3.2425251117, 3.4792494478),
    (1.0, 4.3654134203, 4.5684643056),
]


def load_at(fraction, weighting):
    return float(load_per_minute(np.array([50 + 150 * fraction]), 50.0, 200.0, weighting)[0])


def test_the_constants_are_the_published_ones():
    assert Weighting(0.64, 1.92) == MEN
    assert Weighting(0.86, 1.67) == WOMEN


@pytest.mark.parametrize(("fraction", "men", "women"), OUR_VALUES_PER_MINUTE)
def test_a_minute_weighs_our_regression_value(fraction, men, women):
    assert load_at(fraction, MEN) == pytest.approx(men, abs=5e-11)
    assert load_at(fraction, WOMEN) == pytest.approx(women, abs=5e-11)


@pytest.mark.parametrize(
    ("minutes", "rates", "weighting", "load"),
    [
        (60, (150.0, 50.0, 190.0), MEN, 108.0953593),
        (60, (150.0, 50.0, 190.0), WOMEN, 121.4990664),
        (30, (130.0, 40.0, 200.0), MEN, 31.8025392),
    ],
)
def test_a_steady_session_has_our_regression_value(minutes, rates, weighting, load):
    rate, resting, maximum = rates
    heart_rate = np.full(minutes * 60, rate)
    assert trimp(heart_rate, resting, maximum, weighting) == pytest.approx(load, abs=5e-8)


def test_half_an_hour_easy_and_half_hard_outweighs_an_hour_in_between():
    easy_and_hard = 30 * load_at(0.5, MEN) + 30 * load_at(0.9, MEN)
    assert easy_and_hard == pytest.approx(122.3480395, abs=5e-8)
    assert 60 * load_at(0.7, MEN) == pytest.approx(103.0673353, abs=5e-8)


def test_the_weighting_for_women_lies_above_that_for_men_up_to_the_maximum():
    fractions = np.linspace(0.01, 1.0, 100)
    rates = 50 + 150 * fractions
    assert np.all(load_per_minute(rates, 50.0, 200.0, WOMEN) > load_per_minute(rates, 50.0, 200.0, MEN))


def test_the_two_weightings_meet_only_beyond_the_maximum():
    """Our regression value: they are equal at 1.18186 of the reserve."""
    assert load_at(1.18186, WOMEN) == pytest.approx(load_at(1.18186, MEN), rel=1e-5)
