"""Whether sessions with a strap are like those without."""

import numpy as np

from accuracy.core.learning.features import FEATURES, SCALES
from accuracy.core.learning.selection import COMPARED, differences


def sessions(count, seed, **shifts):
    """Features around their middles, some of them shifted by so many usual departures."""
    features = np.random.default_rng(seed).normal(size=(count, len(FEATURES)))
    for name, shift in shifts.items():
        features[:, FEATURES.index(name)] += shift
    return features


def test_strap_days_that_were_harder_are_found_out():
    (found,) = differences(sessions(12, 1, load=2.5), sessions(20, 2))
    assert found.feature == "load"
    assert found.paired > found.alone
    assert found.p_value < 0.01


def test_medians_are_told_in_the_features_own_unit():
    (found,) = differences(sessions(40, 1, load=10), sessions(40, 2))
    assert abs(found.paired - 10 * SCALES["load"]) < SCALES["load"]


def test_sessions_alike_are_called_different_in_one_of_twenty_cases_at_most():
    found = [differences(sessions(10, seed), sessions(15, 1000 + seed)) for seed in range(200)]
    assert np.mean([bool(one) for one in found]) < 0.08


def test_three_pairs_are_too_few_to_compare():
    assert differences(sessions(3, 1, load=9), sessions(20, 2)) == []


def test_the_surest_difference_comes_first():
    found = differences(sessions(15, 1, load=3, length=1.6), sessions(15, 2))
    assert [one.feature for one in found] == ["load", "length"]
    assert set(COMPARED) >= {one.feature for one in found}
