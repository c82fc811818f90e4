"""Acute and chronic load, monotony and strain, and the two responses.

Published: the definitions (Williams et al. 2017, Br J Sports Med 51:209; Foster 1998, Med Sci Sports Exerc
30:1164-1168; Morton, Fitz-Clarke & Banister 1990, J Appl Physiol 69(3):1171-1177), the correlation that
coupling alone makes, and the days of Fitz-Clarke 1991, from memory. Every other number is our own regression
value, as each test says. The daily loads of Foster's table and of Menaspa's athletes were not found.
"""

import numpy as np
import pytest

from trainlog.load.impulse_response import (
    days_until_gain,
    days_until_greatest_gain,
    net_response,
    response,
)
from trainlog.load.monotony import (
    monotony,
    strain,
)
from trainlog.load.trend import (
    ACUTE_DAYS,
    CHRONIC_DAYS,
    exponentially_weighted,
    ratio,
    rolling_mean,
    smoothing,
)

FOUR_WEEKS = np.repeat([100.0, 200.0], [21, 7])[:, None]
WEEK = np.array([600.0, 200, 400, 500, 100, 650, 0])[:, None]


def test_the_spans_are_those_williams_names():
    """Williams et al. (2017): typically 7 and 28 days."""
    assert (ACUTE_DAYS, CHRONIC_DAYS) == (7, 28)


@pytest.mark.parametrize(("days", "weight"), [(7, 0.25), (28, 0.0689655172), (42, 0.0465116279)])
def test_the_weight_of_the_newest_day_follows_williams(days, weight):
    """Williams et al. (2017): lambda = 2 / (N + 1); the arithmetic is ours."""
    assert smoothing(days) == pytest.approx(weight, abs=5e-11)


def test_a_doubled_week_has_our_exponentially_weighted_values():
    """Our regression value: 21 days of 100, then 7 of 200, seeded with the first load."""
    acute, chronic = exponentially_weighted(FOUR_WEEKS, 7)[-1], exponentially_weighted(FOUR_WEEKS, 28)[-1]
    assert acute == pytest.approx(186.6516113, abs=5e-8)
    assert chronic == pytest.approx(139.3598365, abs=5e-8)
    assert ratio(acute, chronic) == pytest.approx(1.3393501, abs=5e-8)


def test_a_doubled_week_has_our_rolling_ratios():
    """Our regression value: 1.6 where the four weeks contain the last, 2.0 where they end before it."""
    acute = rolling_mean(FOUR_WEEKS, 7)[-1]
    assert ratio(acute, rolling_mean(FOUR_WEEKS, 28)[-1]) == pytest.approx(1.6)
    assert ratio(acute, rolling_mean(FOUR_WEEKS[:-7], 21)[-1]) == pytest.approx(2.0)


def test_coupling_alone_correlates_acute_and_chronic_load():
    """Lolli et al. (2019), Br J Sports Med 53:921: about 0.50; 0.52 in the athletes that Windt & Gabbett
    (2019), 53:988, simulated. In theory exactly 0.5 for four independent weeks."""
    weeks = np.random.default_rng(1).normal(1000, 200, (4, 20_000))
    daily = np.repeat(weeks / 7, 7, axis=0)
    acute, chronic = rolling_mean(daily, 7)[-1], rolling_mean(daily, 28)[-1]
    before = rolling_mean(daily[:-7], 21)[-1]
    assert np.corrcoef(acute, chronic)[0, 1] == pytest.approx(0.5, abs=0.02)
    assert np.corrcoef(acute, before)[0, 1] == pytest.approx(0, abs=0.02)


def test_a_week_has_our_monotony_and_strain():
    """Foster (1998): mean over SD, and weekly load times that; the example is ours, with divisor n - 1."""
    assert monotony(WEEK) == pytest.approx(1.3816986, abs=5e-8)
    assert strain(WEEK) == pytest.approx(3385.1614705, abs=1e-7)


def test_the_other_divisor_makes_monotony_eight_per_cent_higher():
    """Our regression value: 1.4924050 with divisor n, which nothing we have read rules out."""
    assert monotony(WEEK) * np.sqrt(7 / 6) == pytest.approx(1.4924050, abs=5e-8)


def test_one_load_does_harm_for_sixteen_days_and_most_good_after_forty():
    """Fitz-Clarke, Morton & Banister (1991), J Appl Physiol 71(3):1151-1158, from memory: about 16 and 40
    days with time constants 45 and 15 and gains 1 and 2."""
    assert round(days_until_gain(45, 15, 1, 2)) == 16
    assert round(days_until_greatest_gain(45, 15, 1, 2)) == 40


@pytest.mark.parametrize(
    ("slow", "fast", "crossing", "greatest"), [(45, 15, 15.5958, 40.3146), (42, 7, 5.8224, 20.8732)]
)
def test_one_load_has_our_days_to_gain(slow, fast, crossing, greatest):
    """Our regression values, from the closed form."""
    assert days_until_gain(slow, fast, 1, 2) == pytest.approx(crossing, abs=5e-5)
    assert days_until_greatest_gain(slow, fast, 1, 2) == pytest.approx(greatest, abs=5e-5)


@pytest.mark.parametrize(
    ("day", "slow", "fast", "net"),
    [
        (0, 100, 100, -100),
        (1, 97.6471687, 86.6877900, -75.7284113),
        (7, 84.6481725, 36.7879441, 11.0722843),
        (21, 60.6530660, 4.9787068, 50.6956523),
        (42, 36.7879441, 0.2478752, 36.2921937),
    ],
)
def test_one_load_fades_by_our_values(day, slow, fast, net):
    """Our regression values: one load of 100, time constants 42 and 7 days, gains 1 and 2."""
    daily = np.zeros((43, 1))
    daily[0] = 100
    of_slow, of_fast = response(daily, 42)[day], response(daily, 7)[day]
    assert of_slow == pytest.approx(slow, abs=6e-8)
    assert of_fast == pytest.approx(fast, abs=6e-8)
    assert net_response(of_slow, of_fast, 1, 2) == pytest.approx(net, abs=2e-7)


def test_ten_equal_days_build_up_our_values():
    """Our regression values: ten days of 100, time constants 42 and 7 days, gains 1 and 2."""
    daily = np.full((10, 1), 100.0)
    slow, fast = response(daily, 42)[-1], response(daily, 7)[-1]
    assert slow == pytest.approx(900.4996199, abs=6e-8)
    assert fast == pytest.approx(571.1665923, abs=6e-8)
    assert net_response(slow, fast, 1, 2) == pytest.approx(-241.8335647, abs=2e-7)


def test_equal_days_settle_at_our_values():
    """Our regression values: 100 a day for long, time constants 42 and 7 days."""
    daily = np.full((1500, 1), 100.0)
    assert response(daily, 42)[-1] == pytest.approx(4250.1984, abs=5e-5)
    assert response(daily, 7)[-1] == pytest.approx(751.1901, abs=5e-5)
