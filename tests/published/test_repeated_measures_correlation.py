"""Correlation within subjects against Bland and Altman's intramural pH and PaCO2."""

from pathlib import Path

import pandas as pd
import pingouin
import pytest

from accuracy.core.agreement.regression import repeated_measures_correlation

PUBLISHED = Path(__file__).parents[2] / "fixtures" / "published"


@pytest.fixture(scope="module")
def measured():
    return pd.read_csv(PUBLISHED / "bland_altman_1995_ph_paco2.csv", comment="#")


@pytest.fixture(scope="module")
def correlation(measured):
    return repeated_measures_correlation(
        measured["paco2"].to_numpy(), measured["ph"].to_numpy(), measured["subject"].to_numpy()
    )


def test_the_correlation_within_subjects_matches_bland_and_altman_1995(correlation):
    """Bland & Altman 1995, BMJ 310:446 (from memory): r = -0.51, p = 0.0008, slope -0.108."""
    assert correlation.r == pytest.approx(-0.51, abs=0.005)
    assert correlation.p == pytest.approx(0.0008, abs=0.00005)
    assert correlation.slope == pytest.approx(-0.108, abs=0.0005)


def test_the_correlation_within_subjects_matches_published_software(correlation):
    """The rmcorr package's output on these data: -0.5067697, 38 degrees of freedom, p 0.0008471081."""
    assert correlation.r == pytest.approx(-0.5067697, abs=1e-7)
    assert correlation.degrees_of_freedom == 38
    assert correlation.p == pytest.approx(0.0008471081, abs=1e-9)


def test_the_interval_is_that_of_atanh_with_df_less_one(correlation):
    """The rmcorr package since its change of formula: -0.7067146 to -0.2318631."""
    assert correlation.interval == pytest.approx((-0.7067146, -0.2318631), abs=1e-6)


def test_the_correlation_within_subjects_matches_a_second_implementation(measured, correlation):
    theirs = pingouin.rm_corr(measured, x="paco2", y="ph", subject="subject").iloc[0]
    assert correlation.r == pytest.approx(theirs["r"], abs=1e-9)
    assert correlation.p == pytest.approx(theirs.filter(like="p").iloc[0], abs=1e-9)


def test_too_few_measures_for_the_groups_are_refused(measured):
    few = measured.groupby("subject").head(1)
    with pytest.raises(ValueError, match="too few"):
        repeated_measures_correlation(
            few["ph"].to_numpy(), few["paco2"].to_numpy(), few["subject"].to_numpy()
        )
