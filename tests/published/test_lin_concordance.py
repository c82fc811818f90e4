"""Lin's concordance correlation coefficient.

The worked data of Lin LI (1989), Biometrics 45:255-268, were not found; the formula is his (with the 2000
correction, 56:324-325, that leaves the coefficient as it is), the values are our own on published tables.
"""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from accuracy.core.agreement.concordance import concordance_with_intervals
from accuracy.core.agreement.pair_agreement import concordance, pearson_r

PUBLISHED = Path(__file__).parents[2] / "fixtures" / "published"


@pytest.mark.parametrize(
    ("name", "first", "second", "expected"),
    [
        ("bland_altman_1986_pefr.csv", "wright1", "mini1", 0.9427424314),
        ("bland_altman_1999_sbp.csv", "J1", "S1", 0.7258928703),
        ("bland_altman_1999_sbp.csv", "J1", "R1", 0.9976763351),
    ],
)
def test_concordance_of_published_tables_keeps_its_value(name, first, second, expected):
    """Lin 1989's formula on Bland & Altman's tables: regression values of our own, divisor n."""
    data = pd.read_csv(PUBLISHED / name, comment="#")
    value = concordance(data[first].to_numpy(dtype=float), data[second].to_numpy(dtype=float))
    assert value == pytest.approx(expected, abs=1e-9)


def test_a_constant_offset_of_one_on_one_to_five_gives_exactly_four_fifths():
    """By hand from Lin 1989: 2 * 2 / (2 + 2 + 1)."""
    assert concordance(np.arange(1.0, 6.0), np.arange(2.0, 7.0)) == 0.8


def test_concordance_is_correlation_times_bias_correction():
    """Lin 1989: rho_c = r C_b; C_b of the 1986 flow table is 0.9994306931 (our own)."""
    data = pd.read_csv(PUBLISHED / "bland_altman_1986_pefr.csv", comment="#")
    x, y = data["wright1"].to_numpy(dtype=float), data["mini1"].to_numpy(dtype=float)
    assert concordance(x, y) / pearson_r(x, y) == pytest.approx(0.9994306931, abs=1e-9)


@pytest.mark.parametrize(
    ("name", "first", "second", "error", "asymptotic", "by_z"),
    [
        (
            "bland_altman_1986_pefr.csv",
            "wright1",
            "mini1",
            0.0286167,
            (0.8866547, 0.9988302),
            (0.8504919, 0.9787263),
        ),
        ("bland_altman_1999_sbp.csv", "J1", "S1", 0.0457064, (0.63631, 0.8154758), (0.6234501, 0.8038331)),
        ("bland_altman_1999_sbp.csv", "J1", "R1", 0.000507, (0.9966827, 0.99867), (0.9964368, 0.998485)),
    ],
)
def test_both_intervals_of_published_tables_keep_their_values(name, first, second, error, asymptotic, by_z):
    """Lin 1989's standard error as corrected in 2000: regression values of our own."""
    data = pd.read_csv(PUBLISHED / name, comment="#")
    found = concordance_with_intervals(data[first].to_numpy(float), data[second].to_numpy(float))
    assert found.standard_error == pytest.approx(error, abs=1e-7)
    assert found.asymptotic_interval == pytest.approx(asymptotic, abs=1e-6)
    assert found.z_interval == pytest.approx(by_z, abs=1e-6)


def test_the_z_interval_holds_the_true_concordance_nineteen_times_in_twenty():
    """Bivariate normal with r 0.9, equal spread and half a standard deviation of bias: 0.9 / 1.125 = 0.8."""
    rng = np.random.default_rng(1)
    held = []
    for _ in range(400):
        x, noise = rng.normal(size=(2, 50))
        found = concordance_with_intervals(x, 0.9 * x + np.sqrt(1 - 0.81) * noise + 0.5)
        held.append(found.z_interval[0] <= 0.8 <= found.z_interval[1])
    assert 0.92 <= np.mean(held) <= 0.98
