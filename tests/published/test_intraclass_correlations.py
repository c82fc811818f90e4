"""Intraclass correlations against Shrout and Fleiss's own six targets and four judges."""

from pathlib import Path

import numpy as np
import pandas as pd
import pingouin
import pytest

from accuracy.core.agreement.concordance import absolute_agreement_interval, intraclass_correlations

PUBLISHED = Path(__file__).parents[2] / "fixtures" / "published"


@pytest.fixture(scope="module")
def ratings():
    return pd.read_csv(PUBLISHED / "shrout_fleiss_1979.csv", comment="#").set_index("target").to_numpy(float)


@pytest.mark.parametrize(
    ("form", "published", "exact"),
    [
        ("icc_1_1", 0.17, 0.1657418),
        ("icc_2_1", 0.29, 0.2897638),
        ("icc_3_1", 0.71, 0.7148407),
        ("icc_1_k", 0.44, 0.4427971),
        ("icc_2_k", 0.62, 0.6200505),
        ("icc_3_k", 0.91, 0.9093155),
    ],
)
def test_all_six_forms_match_shrout_and_fleiss_1979(ratings, form, published, exact):
    """Shrout & Fleiss 1979, Table 4 (from memory, two decimals); seven decimals: our own."""
    value = getattr(intraclass_correlations(ratings), form)
    assert value == pytest.approx(published, abs=0.005)
    assert value == pytest.approx(exact, abs=1e-7)


def test_all_six_forms_match_a_second_implementation_on_a_pair():
    rng = np.random.default_rng(0)
    x = rng.normal(140, 20, 80)
    y = 0.9 * x + 10 + rng.normal(0, 5, 80)
    long = pd.DataFrame(
        {"t": np.tile(np.arange(80), 2), "r": np.repeat(["x", "y"], 80), "v": np.concatenate([x, y])}
    )
    theirs = pingouin.intraclass_corr(long, targets="t", raters="r", ratings="v")["ICC"].to_numpy()
    ours = list(intraclass_correlations(np.column_stack([x, y])).as_dict().values())
    assert ours == pytest.approx(theirs, abs=1e-9)


def test_the_interval_of_single_absolute_agreement_matches_a_second_implementation(ratings):
    """Shrout and Fleiss' own example; the other implementation rounds to two decimals."""
    rows = [(t, r, value) for (t, r), value in np.ndenumerate(ratings)]
    table = pingouin.intraclass_corr(
        pd.DataFrame(rows, columns=["t", "r", "v"]), targets="t", raters="r", ratings="v"
    )
    theirs = np.asarray(table["CI95"].to_list(), dtype=float)[1]
    assert absolute_agreement_interval(ratings) == pytest.approx(theirs, abs=0.005)


def test_fewer_independent_targets_widen_the_interval(ratings):
    rng = np.random.default_rng(1)
    x = rng.normal(140, 20, 200)
    pair = np.column_stack([x, x + rng.normal(2, 8, 200)])
    icc = intraclass_correlations(pair).icc_2_1
    many, few = absolute_agreement_interval(pair), absolute_agreement_interval(pair, size=20.0)
    assert few[0] < many[0] < icc < many[1] < few[1]


def test_nineteen_in_twenty_intervals_of_absolute_agreement_hold_the_true_one():
    """Judges with a spread of 3 around targets of 10 and an error of 5."""
    held = []
    for seed in range(300):
        rng = np.random.default_rng(seed)
        made = rng.normal(0, 10, (30, 1)) + rng.normal(0, 3, (1, 6)) + rng.normal(0, 5, (30, 6))
        low, high = absolute_agreement_interval(made)
        held.append(low <= 100 / 134 <= high)
    assert 0.91 <= np.mean(held) <= 0.99


def test_a_tested_sensor_that_is_always_right_has_no_interval():
    x = np.arange(100.0, 150.0)
    assert np.isnan(absolute_agreement_interval(np.column_stack([x, x]))).all()


def test_missing_ratings_are_refused():
    with pytest.raises(ValueError, match="every rating"):
        intraclass_correlations(np.array([[1.0, np.nan], [2.0, 3.0]]))
