"""Limits of agreement against Bland and Altman's own tables.

Figures marked *from memory* were not read in the paper while this was written; *our own* are regression
values.
"""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from accuracy.core.agreement import pair_agreement as agreement

PUBLISHED = Path(__file__).parents[2] / "fixtures" / "published"


def table(name: str) -> pd.DataFrame:
    return pd.read_csv(PUBLISHED / name, comment="#")


@pytest.fixture(scope="module")
def flow_differences():
    flow = table("bland_altman_1986_pefr.csv")
    return (flow["wright1"] - flow["mini1"]).to_numpy(dtype=float)


@pytest.fixture(scope="module")
def pressure_differences():
    pressure = table("bland_altman_1999_sbp.csv")
    return (pressure["J1"] - pressure["S1"]).to_numpy(dtype=float)


@pytest.fixture(scope="module")
def cardiac():
    return table("bland_altman_2007_cardiac.csv")


def test_bias_and_spread_match_bland_and_altman_1986(flow_differences):
    """Bland & Altman 1986, Lancet 327:307-310: -2.1 and 38.8 l/min."""
    assert agreement.bias(flow_differences) == pytest.approx(-2.1, abs=0.05)
    assert agreement.sd(flow_differences) == pytest.approx(38.8, abs=0.05)


def test_limits_of_agreement_match_bland_and_altman_1986(flow_differences):
    """Bland & Altman 1986: -79.7 and 75.5 l/min, from rounded -2.1 and 38.8 and a multiple of 2."""
    limits = agreement.limits_of_agreement(flow_differences, multiple=2)
    assert (limits.lower, limits.upper) == pytest.approx((-79.7, 75.5), abs=0.1)
    assert (limits.lower, limits.upper) == pytest.approx((-79.6479, 75.4126), abs=1e-4)


def test_confidence_intervals_match_bland_and_altman_1986(flow_differences):
    """Bland & Altman 1986 (from memory): bias -22.0 to 17.8, limits -114.3 to -45.1 and 40.9 to 110.1.

    The paper's limits and their intervals come from rounded inputs; the tighter figures are our own.
    """
    limits = agreement.limits_of_agreement(flow_differences, multiple=2)
    assert limits.bias_interval == pytest.approx((-22.0, 17.8), abs=0.06)
    assert limits.lower_interval == pytest.approx((-114.3, -45.1), abs=0.2)
    assert limits.upper_interval == pytest.approx((40.9, 110.1), abs=0.2)
    assert limits.lower_interval == pytest.approx((-114.1697, -45.1261), abs=1e-4)
    assert limits.upper_interval == pytest.approx((40.8908, 109.9344), abs=1e-4)


def test_correlation_matches_bland_and_altman_1986():
    """Bland & Altman 1986 (from memory): r = 0.94."""
    flow = table("bland_altman_1986_pefr.csv")
    r = agreement.pearson_r(flow["wright1"].to_numpy(float), flow["mini1"].to_numpy(float))
    assert r == pytest.approx(0.94, abs=0.005)


def test_limits_of_agreement_match_bland_and_altman_1999(pressure_differences):
    """Bland & Altman 1999, Stat Methods Med Res 8:135-160 (from memory): -16.29, 19.61, -54.7, 22.1 mmHg."""
    limits = agreement.limits_of_agreement(pressure_differences)
    assert (limits.bias, limits.sd) == pytest.approx((-16.29, 19.61), abs=0.005)
    assert (limits.lower, limits.upper) == pytest.approx((-54.7, 22.1), abs=0.05)


def test_confidence_intervals_match_bland_and_altman_1999(pressure_differences):
    """Bland & Altman 1999 (from memory): -61.9 to -47.5 and 14.9 to 29.4 mmHg, with 1.71 s / sqrt(n)."""
    limits = agreement.limits_of_agreement(pressure_differences)
    assert limits.lower_interval == pytest.approx((-61.9, -47.5), abs=0.07)
    assert limits.upper_interval == pytest.approx((14.9, 29.4), abs=0.07)


def test_repeated_measures_limits_match_bland_and_altman_2007(cardiac):
    """Bland & Altman 2007, J Biopharm Stat 17:571-582, true value varies."""
    limits = agreement.repeated_measures_limits(
        (cardiac["RV"] - cardiac["IC"]).to_numpy(dtype=float), cardiac["subject"].to_numpy()
    )
    assert limits.bias == pytest.approx(0.6021667, abs=1e-6)
    assert limits.sd == pytest.approx(0.99062408, abs=1e-6)
    assert limits.within_sd**2 == pytest.approx(0.170714026, abs=1e-6)
    assert (limits.lower, limits.upper) == pytest.approx((-1.3394565, 2.5437899), abs=1e-6)


def test_ignoring_the_subjects_matches_bland_and_altman_2007(cardiac):
    """Bland & Altman 2007: a standard deviation of 0.9610571 if the 60 pairs are taken as independent."""
    assert agreement.sd((cardiac["RV"] - cardiac["IC"]).to_numpy(dtype=float)) == pytest.approx(
        0.9610571, abs=1e-6
    )


def test_groups_of_one_true_difference_give_no_variance_between():
    differences = np.array([-1.0, 1.0, -1.0, 1.0])
    limits = agreement.repeated_measures_limits(differences, np.array([1, 1, 2, 2]))
    assert limits.between_sd == 0
