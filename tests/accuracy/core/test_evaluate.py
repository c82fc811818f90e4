"""Holding out workouts to see whether a correction earns its name."""

import numpy as np
import pytest

from accuracy.core.evaluate import evidence, leave_one_workout_out, summarise
from accuracy.core.profile import Cell

LIFTING = Cell("wrist", "", "resistance", "lifting")


def sessions(log_ratios, cell=LIFTING, load=60.0):
    return [
        evidence(f"{n}", cell, load, load / np.exp(log_ratio), workout=f"workout {n}", content=f"content {n}")
        for n, log_ratio in enumerate(log_ratios)
    ]


def test_a_sensor_that_is_always_as_low_is_corrected_to_the_strap():
    outcomes = leave_one_workout_out(sessions([0.25, 0.27, 0.24, 0.26, 0.25, 0.26]), seed=1)
    summary = summarise(outcomes)
    assert summary.raw_error == pytest.approx(100 * (1 - np.exp(-0.255)), abs=1)
    assert summary.corrected_error < 4
    assert summary.covered == 6
    assert summary.earns_its_name


def test_a_sensor_that_is_right_gains_nothing():
    summary = summarise(leave_one_workout_out(sessions([0.0] * 5), seed=1))
    assert summary.raw_error == pytest.approx(0)
    assert not summary.earns_its_name


def test_a_session_never_helps_to_correct_itself():
    alone = leave_one_workout_out(sessions([0.6, 0.0, 0.01]), seed=1)[0]
    without = leave_one_workout_out(sessions([0.3, 0.0, 0.01]), seed=1)[0]
    corrections = [outcome.corrected / outcome.session.raw_load for outcome in (alone, without)]
    assert corrections[0] == pytest.approx(corrections[1])


def test_parts_of_one_workout_are_held_out_together():
    first, second, other = sessions([0.5, 0.5, 0.0])
    same = evidence("b", LIFTING, 60.0, second.raw_load, workout=first.workout, content="b")
    assert [outcome.pairs for outcome in leave_one_workout_out([first, same, other], seed=1)] == [1, 1, 2]


def test_width_is_told_beside_that_of_the_prior():
    outcome = leave_one_workout_out(sessions([0.25, 0.27, 0.24, 0.26, 0.25, 0.26]), seed=1)[0]
    assert outcome.width < 0.5 * outcome.prior_width
