"""Pairs predicted by fits that never saw their workout."""

import math
from dataclasses import replace

import numpy as np
import pytest

from accuracy.core.evaluation import folds
from accuracy.core.evaluation.folds import predict_held_out
from accuracy.core.learning.wrist_fit import learn_wrist
from tests.accuracy.core.learning.test_wrist_fit import LIFTING, RUN, SEED, pairs

SPREAD = 0.1 * np.linspace(-2, 2, 401)


class Mean:
    """A fit that foretells the mean of what it was given, give or take."""

    def __init__(self, given):
        self.mean = np.mean([pair.log_ratio for pair in given])

    def further_session(self, session):
        return self.mean + SPREAD


@pytest.fixture
def fits(monkeypatch):
    """What each fit was given; fits are means."""
    found = []

    def learn(given, *, seed):
        found.append(given)
        return Mean(given), []

    monkeypatch.setattr(folds, "learn_wrist", learn)
    return found


def test_each_pair_is_predicted_as_a_fit_of_the_other_workouts_does():
    given = pairs(RUN, 3)
    found = predict_held_out(given, seed=SEED)
    alone, _ = learn_wrist(given[:2], seed=SEED)
    draws = alone.further_session(given[2].session)
    assert found[2].corrected == pytest.approx(math.exp(np.median(draws) - given[2].log_ratio), rel=1e-3)
    assert found[2].probability == np.mean(draws < given[2].log_ratio)


def test_as_it_stands_is_the_tested_load_over_the_references(fits):
    given = pairs(RUN, 3)
    assert [one.as_it_stands for one in predict_held_out(given, seed=SEED)] == [
        pytest.approx(math.exp(-pair.log_ratio)) for pair in given
    ]


def test_no_fit_is_given_the_workout_that_it_foretells(fits):
    given = pairs(RUN, 4)
    predict_held_out(given, seed=SEED)
    assert sorted(len(one) for one in fits) == [3, 3, 3, 3]
    left_out = [({pair.workout for pair in given} - {pair.workout for pair in one}).pop() for one in fits]
    assert sorted(left_out) == sorted(pair.workout for pair in given)


def test_the_order_is_the_one_given(fits):
    given = pairs(RUN, 5)
    assert [one.pair for one in predict_held_out(given[::-1], seed=SEED)] == given[::-1]


def test_what_is_found_of_a_pair_does_not_depend_on_the_order(fits):
    given = pairs(RUN, 4) + pairs(LIFTING, 3, seed=1)
    there, back = (predict_held_out(order, seed=SEED, most_fits=3) for order in (given, given[::-1]))
    assert [one.corrected for one in there] == pytest.approx([one.corrected for one in back[::-1]])


def test_pairs_of_one_workout_teach_each_other_nothing(fits):
    assert predict_held_out(pairs(RUN, 4, together=True), seed=SEED) == []
    assert fits == []


def test_without_pairs_nothing_is_predicted(fits):
    assert predict_held_out([], seed=SEED) == []


def test_with_more_workouts_than_fits_groups_are_left_out_with_some_of_every_kind(fits):
    given = pairs(RUN, 6) + [replace(pair, workout=f"{pair.workout}+") for pair in pairs(LIFTING, 3)]
    assert len(predict_held_out(given, seed=SEED, most_fits=3)) == 9
    assert [len(one) for one in fits] == [6, 6, 6]
    assert [sum(pair.session.cell == LIFTING for pair in one) for one in fits] == [2, 2, 2]


def test_wider_intervals_hold_what_narrower_ones_do(fits):
    for one in predict_held_out(pairs(RUN, 8, spread=0.2), seed=SEED):
        lows, highs = zip(*(one.intervals[coverage] for coverage in (0.5, 0.8, 0.95)), strict=True)
        assert list(lows) == sorted(lows, reverse=True)
        assert list(highs) == sorted(highs)
        assert one.held(0.95) or not one.held(0.8)


def test_an_interval_holds_a_pair_that_came_as_foretold_and_not_one_that_did_not(fits):
    alike = [replace(pair, log_ratio=0.2) for pair in pairs(RUN, 4)]
    assert all(one.held() for one in predict_held_out(alike, seed=SEED))
    odd = [replace(alike[0], log_ratio=0.9), *alike[1:]]
    assert not predict_held_out(odd, seed=SEED)[0].held()
