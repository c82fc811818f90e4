"""Weights of candidates by what they foretold, and the width of their mixture."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from accuracy.core.learning.stacking import inflation, stacking_weights, standardised_scores

EVEN = np.zeros(2)


def weights(log_density, family, *, families=3, expected=EVEN):
    return stacking_weights(np.asarray(log_density, dtype=float), np.asarray(family), families, expected)


@settings(derandomize=True, deadline=None, max_examples=25)
@given(seed=st.integers(0, 10**6), observations=st.integers(1, 30), candidates=st.integers(1, 6))
def test_weights_of_every_family_add_up_to_one(seed, observations, candidates):
    rng = np.random.default_rng(seed)
    found = stacking_weights(
        3 * rng.standard_normal((observations, candidates)),
        rng.integers(0, 4, observations),
        4,
        rng.standard_normal(candidates),
    )
    assert found.sum(axis=1) == pytest.approx(np.ones(4))
    assert found.min() >= 0


def test_the_candidate_that_foretold_better_weighs_more():
    found = weights([[1.0, 0.0]] * 20, [0] * 20)
    assert found[0, 0] > 0.8


def test_what_was_expected_stands_where_all_foretold_alike():
    found = weights([[0.4, 0.4]] * 20, [0] * 20, expected=np.array([1.0, 0.0]))
    assert found[0, 0] == pytest.approx(np.e / (1 + np.e), abs=1e-4)


def test_more_sessions_say_more():
    few, many = (weights([[0.5, 0.0]] * count, [0] * count)[0, 0] for count in (2, 40))
    assert 0.5 < few < many


def test_a_family_without_sessions_gets_what_all_together_say():
    found = weights([[1.0, 0.0]] * 20, [0] * 20)
    assert found[1] == pytest.approx(found[2])
    assert 0.5 < found[1, 0] < found[0, 0]


def test_families_that_disagree_get_weights_of_their_own():
    found = weights([[1.0, 0.0]] * 20 + [[0.0, 1.0]] * 20, [0] * 20 + [1] * 20)
    assert found[0, 0] > 0.6
    assert found[1, 0] < 0.4


def test_a_constant_added_to_a_sessions_log_densities_changes_nothing():
    rng = np.random.default_rng(4)
    log_density, family = rng.standard_normal((12, 2)), rng.integers(0, 3, 12)
    moved = log_density + 700 * rng.standard_normal((12, 1))
    assert weights(moved, family) == pytest.approx(weights(log_density, family), abs=1e-5)


def test_scores_are_the_normal_quantiles_of_probabilities():
    assert standardised_scores(np.array([0.025, 0.5, 0.8413])) == pytest.approx([-1.96, 0.0, 1.0], abs=1e-3)


def test_a_session_beyond_every_draw_still_has_a_finite_score():
    assert np.isfinite(standardised_scores(np.array([0.0, 1.0]))).all()


def test_scores_that_scatter_too_widely_widen():
    assert inflation(1.8 * np.random.default_rng(1).standard_normal(200)) > 1.3


def test_scores_that_scatter_too_little_narrow():
    assert inflation(np.zeros(40)) == pytest.approx(np.sqrt(0.5))


def test_few_scores_hardly_change_the_width():
    assert inflation(np.array([2.5, -1.0])) == pytest.approx(1.0, abs=0.08)
    assert inflation(np.zeros(0)) == 1.0


def test_calibrated_scores_leave_the_width_as_it_is():
    assert inflation(np.random.default_rng(2).standard_normal(400)) == pytest.approx(1.0, abs=0.08)


def test_one_wild_score_says_no_more_than_the_largest_that_counts():
    assert inflation(np.array([50.0])) == inflation(np.array([3.0]))
