"""Repeated-measures limits of agreement against Bland and Altman's tables of 1999 and 2007.

Figures marked *from memory* were not read in the paper while this was written; *our own* are regression
values.
"""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from accuracy.core.agreement.limits import repeated_measures_limits, replicate_limits
from accuracy.core.agreement.regression_limits import regression_limits, slope_interval_in_time

PUBLISHED = Path(__file__).parents[2] / "fixtures" / "published"


def table(name):
    return pd.read_csv(PUBLISHED / name, comment="#")


@pytest.fixture(scope="module")
def pressure():
    """Readings of observer J and machine S with the person of each."""
    wide = table("bland_altman_1999_sbp.csv")
    readings = {
        method: wide[[f"{method}{n}" for n in (1, 2, 3)]].to_numpy(dtype=float).ravel() for method in "JRS"
    }
    return readings, np.repeat(wide["person"].to_numpy(), 3)


@pytest.fixture(scope="module")
def cardiac():
    data = table("bland_altman_2007_cardiac.csv")
    return data["IC"].to_numpy(float), data["RV"].to_numpy(float), data["subject"].to_numpy()


def test_replicate_limits_match_bland_and_altman_1999(pressure):
    """Bland & Altman 1999 (from memory): mean -15.62, SD 20.95, limits -56.68 and 25.44 mmHg, J less S."""
    readings, person = pressure
    limits = replicate_limits(readings["S"], readings["J"], person, person)
    assert limits.bias == pytest.approx(-15.62, abs=0.005)
    assert limits.sd == pytest.approx(20.95, abs=0.005)
    assert (limits.lower, limits.upper) == pytest.approx((-56.68, 25.44), abs=0.005)


def test_the_variances_behind_the_replicate_limits_match_bland_and_altman_1999(pressure):
    """Bland & Altman 1999 (from memory): 358.49 between; 37.408 for J and 83.141 for S within."""
    readings, person = pressure
    limits = replicate_limits(readings["S"], readings["J"], person, person)
    assert limits.between_sd**2 == pytest.approx(358.49, abs=0.005)
    assert limits.within_sd**2 == pytest.approx(37.408 + 83.141, abs=0.001)


def test_limits_of_a_varying_true_value_match_bland_and_altman_2007(cardiac):
    """Bland & Altman 2007: SD 0.99062408, limits -1.3394565 and 2.5437899."""
    ic, rv, subject = cardiac
    limits = repeated_measures_limits(rv - ic, subject)
    assert limits.sd == pytest.approx(0.99062408, abs=1e-6)
    assert (limits.lower, limits.upper) == pytest.approx((-1.3394565, 2.5437899), abs=1e-6)


def test_limits_of_a_constant_true_value_match_bland_and_altman_2007(cardiac):
    """Bland & Altman 2007: SD 1.0518506, limits -1.4594605 and 2.6637939 about the mean of all 60."""
    ic, rv, subject = cardiac
    limits = replicate_limits(ic, rv, subject, subject)
    assert limits.bias == pytest.approx(0.6021667, abs=1e-6)
    assert limits.sd == pytest.approx(1.0518506, abs=1e-6)
    assert (limits.lower, limits.upper) == pytest.approx((-1.4594605, 2.6637939), abs=1e-6)
    assert limits.between_sd**2 == pytest.approx(0.91269114, abs=1e-6)
    assert limits.within_sd**2 == pytest.approx(0.107227795 + 0.137874069, abs=1e-6)


@pytest.mark.parametrize("true_value", ["varies", "constant"])
def test_nineteen_in_twenty_intervals_of_repeated_measures_limits_hold_the_true_limit(true_value):
    """Coverage on simulated sessions, between SD 3 and within SD 4: 95% aimed at (MOVER, Zou 2013)."""
    rng = np.random.default_rng(5)
    held = []
    for _ in range(300):
        sizes = rng.integers(3, 9, 12)
        group = np.repeat(np.arange(12), sizes)
        shift = rng.normal(0, 3, 12)[group]
        x, y = rng.normal(0, 4 / 2**0.5, (2, len(group)))
        if true_value == "varies":
            limits = repeated_measures_limits(shift + y - x, group)
        else:
            limits = replicate_limits(x, shift + y, group, group)
        held.append(limits.upper_interval[0] <= 1.96 * 5 <= limits.upper_interval[1])
    assert 0.92 <= np.mean(held) <= 0.99


def test_methods_that_name_other_groups_are_refused():
    with pytest.raises(ValueError, match="same groups"):
        replicate_limits(np.arange(4.0), np.arange(4.0), np.array([1, 1, 2, 2]), np.array([1, 1, 3, 3]))


def test_replicates_are_needed():
    with pytest.raises(ValueError, match="replicates"):
        replicate_limits(np.arange(3.0), np.arange(3.0), np.arange(3), np.arange(3))


def test_regression_limits_are_two_least_squares_lines(pressure):
    """Bland & Altman 1999, section 3.2, with numpy's least squares as the second implementation."""
    readings, _ = pressure
    x, y = readings["J"], readings["S"]
    mean, difference = (x + y) / 2, y - x
    slope, intercept = np.polyfit(mean, difference, 1)
    size = np.abs(difference - intercept - slope * mean)
    spread_slope, spread_intercept = np.polyfit(mean, size, 1)
    limits = regression_limits(x, y)
    lower, centre, upper = limits.at(np.array([100.0, 150.0]))
    reach = 2.46 * (spread_intercept + spread_slope * np.array([100.0, 150.0]))
    assert centre == pytest.approx(intercept + slope * np.array([100.0, 150.0]))
    assert upper - centre == pytest.approx(reach, rel=0.002)
    assert centre - lower == pytest.approx(reach, rel=0.002)


def test_regression_limits_hold_nineteen_in_twenty_where_the_spread_grows():
    rng = np.random.default_rng(2)
    x = rng.uniform(80, 180, 4000)
    y = x + 0.1 * (x - 130) + rng.normal(0, 0.05 * x)
    limits = regression_limits(x, y)
    lower, _, upper = limits.at((x + y) / 2)
    inside = (y - x >= lower) & (y - x <= upper)
    assert np.mean(inside) == pytest.approx(0.95, abs=0.01)
    assert np.mean(inside[x > 160]) == pytest.approx(0.95, abs=0.02)


def test_the_interval_of_the_slope_holds_where_neighbours_repeat_each_other():
    """Errors that last ten epochs; taken as independent they make the interval too narrow."""
    held = []
    for seed in range(200):
        rng = np.random.default_rng(seed)
        pushes = rng.normal(0, 1, (2, 160))
        slow = np.zeros((2, 160))
        for at in range(1, 160):
            slow[:, at] = 0.9 * slow[:, at - 1] + pushes[:, at]
        middle, difference = 140 + 6 * slow[0], slow[1]
        x, y = middle - difference / 2, middle + difference / 2
        held.append(
            [
                low <= 0 <= high
                for low, high in (slope_interval_in_time(x, y), regression_limits(x, y).slope_interval)
            ]
        )
    in_time, as_independent = np.mean(held, axis=0)
    assert in_time >= 0.92
    assert as_independent < 0.75
