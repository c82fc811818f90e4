"""Pooled regression whose scales are learned."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import optimize

from accuracy.core.learning.partial_pooling import posterior
from accuracy.core.learning.pooled_regression import (
    NO_NOISE,
    OWN_NOISE,
    SHARED_NOISE,
    Level,
    Problem,
    _Target,
    fit,
)
from trainlog.load.draws import DRAWS, standard_normals

LEVELS = (Level(0.2, 0.5, NO_NOISE), Level(0.3, 0.7, SHARED_NOISE), Level(0.4, 0.6, OWN_NOISE))


def random_problem(seed, observations, effects, families):
    rng = np.random.default_rng(seed)
    return Problem(
        design=rng.standard_normal((observations, effects)),
        observed=rng.standard_normal(observations),
        levels=LEVELS,
        level_of_effect=rng.integers(0, len(LEVELS), effects),
        family_of_effect=rng.integers(0, families, effects),
        family_of_observation=rng.integers(0, families, observations),
        base_noise=rng.uniform(0.1, 0.5, families),
    )


def groups(each, count, *, noise=0.1, spread=0.2, level=LEVELS[0], seed=3):
    """Groups with a mean of their own, and the true means."""
    rng = np.random.default_rng(seed)
    means = spread * rng.standard_normal(count)
    group = np.repeat(np.arange(count), each)
    problem = Problem(
        design=np.eye(count)[group],
        observed=means[group] + noise * rng.standard_t(4, len(group)),
        levels=(level,),
        level_of_effect=np.zeros(count, dtype=int),
        family_of_effect=np.zeros(count, dtype=int),
        family_of_observation=np.zeros(len(group), dtype=int),
        base_noise=np.array([0.2]),
    )
    return problem, means


def normals(count, what):
    return np.column_stack([standard_normals(f"{what} {number}") for number in range(count)])


def drawn(problem):
    fitted = fit(problem)
    hyper = fitted.hyper(normals(len(fitted.mode), "scale"))
    noise, effects = normals(len(problem.observed), "noise"), normals(problem.design.shape[1], "effect")
    return hyper, fitted.effect_draws(hyper, noise, effects)


@settings(derandomize=True, deadline=None, max_examples=40)
@given(
    seed=st.integers(0, 10**6),
    observations=st.integers(1, 12),
    effects=st.integers(1, 8),
    families=st.integers(1, 3),
)
def test_the_gradient_is_that_of_the_target(seed, observations, effects, families):
    problem = random_problem(seed, observations, effects, families)
    rng = np.random.default_rng(seed)
    hyper, weights = rng.standard_normal(len(problem.doubt)), rng.uniform(0.3, 1.2, observations)
    target = _Target(problem)
    numerical = optimize.approx_fprime(hyper, lambda at: target(at, weights)[0], 1e-6)
    assert target(hyper, weights)[1] == pytest.approx(numerical, abs=2e-3, rel=1e-3)


def test_without_observations_the_scales_keep_their_prior():
    problem = random_problem(1, 0, 4, 2)
    fitted = fit(problem)
    asked = np.random.default_rng(0).standard_normal((5, len(problem.doubt)))
    assert fitted.hyper(asked) == pytest.approx(asked)


def test_factors_of_one_leave_every_scale_at_its_base():
    problem = random_problem(2, 5, 30, 3)
    untouched = np.zeros(len(problem.doubt))
    assert problem.noise(untouched) == pytest.approx(problem.base_noise)
    shared, own = 0.3 * problem.base_noise.mean(), 0.4 * problem.base_noise[problem.family_of_effect]
    expected = np.select([problem.level_of_effect == 0, problem.level_of_effect == 1], [0.2, shared], own)
    assert problem.effect_scales(untouched) == pytest.approx(expected)


def test_known_means_are_recovered_within_their_errors():
    problem, means = groups(each=40, count=6)
    _, effects = drawn(problem)
    assert np.all(np.abs(effects.mean(axis=0) - means) < 4 * effects.std(axis=0))
    assert effects.std(axis=0).max() < 0.04


def test_a_known_noise_is_recovered():
    problem, _ = groups(each=40, count=6, noise=0.1)
    hyper, _ = drawn(problem)
    assert np.median(problem.noise(hyper)) == pytest.approx(0.1, rel=0.15)


def test_a_spread_wider_than_expected_is_learned():
    problem, _ = groups(each=10, count=40, spread=0.5)
    hyper, _ = drawn(problem)
    assert np.median(problem.level_scales(hyper)) == pytest.approx(0.5, rel=0.25)


def test_a_spread_narrower_than_expected_is_learned():
    problem, _ = groups(each=10, count=40, spread=0.0)
    hyper, _ = drawn(problem)
    assert np.median(problem.level_scales(hyper)) < 0.1


def test_an_outlier_weighs_less_than_its_neighbours():
    problem, _ = groups(each=10, count=4)
    problem.observed[0] += 3.0
    weights = fit(problem).weights
    assert weights[0] < 0.1 * np.median(weights)


def test_effects_scatter_about_their_mean_given_the_scales_no_less_than_that_posterior_does():
    """At scales held fixed; weights of the Student-t noise that are drawn too can only widen them."""
    problem, _ = groups(each=5, count=3)
    fitted = fit(problem)
    fixed = np.tile(fitted.mode, (DRAWS, 1))
    effects = fitted.effect_draws(fixed, normals(15, "noise"), normals(3, "effect"))
    noise = problem.noise(fitted.mode)[problem.family_of_observation] ** 2 / fitted.weights
    sizes = problem.effect_scales(fitted.mode) ** 2
    mean, covariance = posterior(problem.design, problem.observed, noise, sizes)
    spread = np.sqrt(np.diag(covariance))
    assert np.all(np.abs(effects.mean(axis=0) - mean) < 4 * spread / np.sqrt(DRAWS))
    assert np.all((effects.std(axis=0) > 0.9 * spread) & (effects.std(axis=0) < 1.5 * spread))
