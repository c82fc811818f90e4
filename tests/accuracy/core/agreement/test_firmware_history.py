"""Load error by firmware version, and whether a version changed it."""

import math

import numpy as np
import pytest
from scipy import stats

from accuracy.core.agreement.firmware_history import firmware_histories

OLD = [0.20, 0.28, 0.24, 0.18, 0.30]
NEW = [0.08, 0.02, 0.06, 0.10]


def history(*versions):
    return firmware_histories({"cell": versions})["cell"]


def test_each_version_has_its_pairs_and_the_mean_of_their_ratios():
    found = history(("2.6", OLD), ("3.0", NEW))

    assert [(one.version, one.pairs) for one in found.versions] == [("2.6", 5), ("3.0", 4)]
    assert found.versions[0].ratio == pytest.approx(math.exp(0.24))


def test_the_interval_of_a_version_is_students():
    low, high = stats.ttest_1samp(OLD, 0).confidence_interval(0.95)
    (found,) = history(("2.6", OLD)).versions

    assert (found.low, found.high) == pytest.approx((math.exp(low), math.exp(high)))


def test_a_change_is_welchs():
    theirs = stats.ttest_ind(NEW, OLD, equal_var=False)
    (change,) = history(("2.6", OLD), ("3.0", NEW)).changes

    assert change.p == pytest.approx(theirs.pvalue)
    assert (math.log(change.low), math.log(change.high)) == pytest.approx(
        tuple(theirs.confidence_interval(0.95))
    )
    assert change.factor == pytest.approx(math.exp(np.mean(NEW) - np.mean(OLD)))
    assert change.is_clear


def test_versions_alike_have_no_clear_change():
    (change,) = history(("2.6", OLD), ("3.0", [0.21, 0.27, 0.25])).changes

    assert not change.is_clear


def test_with_two_pairs_nothing_is_judged():
    found = history(("2.6", OLD), ("3.0", NEW[:2]))

    assert found.changes == [None]
    assert math.isnan(found.versions[1].low)
    assert found.versions[1].ratio == pytest.approx(math.exp(0.05))


def test_each_version_is_held_against_the_one_before():
    found = history(("1", OLD), ("2", NEW), ("3", OLD))

    assert [change.factor > 1 for change in found.changes] == [False, True]


def test_many_changes_looked_at_together_must_each_be_clearer():
    alone = history(("2.6", OLD), ("3.0", NEW)).changes[0]
    cells = {place: [("2.6", OLD), ("3.0", NEW)] for place in range(4)}

    among_four = firmware_histories(cells)[0].changes[0]

    assert among_four.p == alone.p
    assert among_four.adjusted_p == pytest.approx(4 * alone.p)


def test_a_change_that_is_none_is_rarely_called_clear():
    chance = np.random.default_rng(12)
    clear = [
        history(("1", chance.normal(0.1, 0.05, 5)), ("2", chance.normal(0.1, 0.1, 4))).changes[0].is_clear
        for _ in range(600)
    ]

    assert np.mean(clear) < 0.075


def test_ratios_without_spread_are_not_judged():
    assert history(("1", [0.1] * 3), ("2", [0.1] * 3)).changes == [None]
