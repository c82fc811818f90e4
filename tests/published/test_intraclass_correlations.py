"""Intraclass correlations against Shrout and Fleiss's own six targets and four judges."""

from pathlib import Path

import numpy as np
import pandas as pd
import pingouin
import pytest

from accuracy.core.concordance import intraclass_correlations

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


def test_missing_ratings_are_refused():
    with pytest.raises(ValueError, match="every rating"):
        intraclass_correlations(np.array([[1.0, np.nan], [2.0, 3.0]]))
