"""Foretelling each observation from the other workouts, in closed form."""

import numpy as np
import pytest
from scipy import stats

from accuracy.core.learning.leave_out import leave_workouts_out
from accuracy.core.learning.partial_pooling import posterior
from accuracy.core.learning.pooled_regression import DEGREES_OF_FREEDOM, Fitted, Level, Problem

SINGLE = [[place] for place in range(9)]
BLOCKS = [[0], [1, 5], [2, 3, 4], [6], [7, 8]]


def fitted():
    rng = np.random.default_rng(8)
    problem = Problem(
        design=rng.standard_normal((9, 4)),
        observed=rng.standard_normal(9),
        levels=(Level(0.5, 0.5),),
        level_of_effect=np.zeros(4, dtype=int),
        family_of_effect=np.zeros(4, dtype=int),
        family_of_observation=np.arange(9) % 2,
        base_noise=np.array([0.3, 0.6]),
    )
    factors = len(problem.doubt)
    return Fitted(problem, np.zeros(factors), np.eye(factors), rng.uniform(0.3, 1.2, 9))


def some_draws(count=5):
    return np.random.default_rng(9).standard_normal((count, len(fitted().mode)))


def refitted(workouts, hyper):
    """Log densities, probabilities and expectations by refitting the effects without each workout."""
    one = fitted()
    problem = one.problem
    density, probability, expected = (np.zeros((len(hyper), 9)) for _ in range(3))
    for draw, factors in enumerate(hyper):
        noise = problem.noise(factors)[problem.family_of_observation]
        sizes = problem.effect_scales(factors) ** 2
        for places in workouts:
            kept = np.setdiff1d(np.arange(9), places)
            mean, covariance = posterior(
                problem.design[kept],
                problem.observed[kept],
                noise[kept] ** 2 / one.weights[kept],
                sizes,
            )
            for place in places:
                row = problem.design[place]
                scale = np.sqrt(noise[place] ** 2 + row @ covariance @ row)
                foretold = stats.t(DEGREES_OF_FREEDOM, row @ mean, scale)
                density[draw, place] = foretold.pdf(problem.observed[place])
                probability[draw, place] = foretold.cdf(problem.observed[place])
                expected[draw, place] = row @ mean
    return np.log(density.mean(axis=0)), probability.mean(axis=0), expected.mean(axis=0)


@pytest.mark.parametrize("workouts", [SINGLE, BLOCKS], ids=["single pairs", "workouts of several pairs"])
def test_the_closed_form_equals_refitting_without_the_workout(workouts):
    closed = leave_workouts_out(fitted(), workouts, some_draws())
    log_density, probability, expected = refitted(workouts, some_draws())
    assert closed.log_density == pytest.approx(log_density, abs=1e-9)
    assert closed.probability == pytest.approx(probability, abs=1e-9)
    assert closed.expected == pytest.approx(expected, abs=1e-9)


def test_a_pair_is_foretold_without_what_its_own_workout_says():
    """With all pairs in one workout nothing is left to learn from: the effects keep their prior."""
    all_together = leave_workouts_out(fitted(), [list(range(9))], some_draws())
    assert all_together.expected == pytest.approx(np.zeros(9), abs=1e-9)


def test_the_order_of_workouts_changes_nothing():
    forth = leave_workouts_out(fitted(), BLOCKS, some_draws())
    back = leave_workouts_out(fitted(), BLOCKS[::-1], some_draws())
    assert forth.log_density == pytest.approx(back.log_density, abs=1e-12)
