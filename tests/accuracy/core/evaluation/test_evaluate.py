"""Holding out workouts to see whether a correction earns its name."""

from dataclasses import replace
from functools import lru_cache

import numpy as np
import pandas as pd
import pytest

from accuracy.core.evaluation.held_out import (
    AS_IT_STANDS,
    PUBLISHED,
    Trial,
    forward_in_time,
    held_out,
    leave_one_workout_out,
    scores,
    table,
)
from accuracy.core.evaluation.simulate_athletes import simulate_athlete
from accuracy.core.evaluation.simulated_log import pair_of
from accuracy.core.learning.wrist_fit import learn_wrist
from trainlog.load.physiology import PhysiologyDraws


@lru_cache
def lifting():
    """Six pairs of one simulated athlete, alike but for what is changed in them."""
    athlete = simulate_athlete(3, broad=False, switched_on=frozenset())
    physiology = PhysiologyDraws(athlete.resting, athlete.maximum, 0.0, 0.0, athlete.weighting, seed=3)
    return [pair_of(athlete.session("lifting", number), physiology) for number in range(6)]


def held(log_ratios, workouts=None):
    return [
        held_out(
            f"{number}",
            "ana",
            replace(pair, log_ratio=log_ratio, workout=(workouts or "abcdefgh")[number]),
        )
        for number, (pair, log_ratio) in enumerate(zip(lifting(), log_ratios, strict=False))
    ]


def errors(rows, method):
    return rows[rows["method"] == method]["error"].to_numpy()


def test_a_sensor_that_is_always_as_low_is_corrected_to_the_strap():
    rows = leave_one_workout_out(held([0.25, 0.27, 0.24, 0.26, 0.25, 0.26]), seed=1)
    assert errors(rows, AS_IT_STANDS) == pytest.approx(100 * (np.exp(-0.255) - 1), abs=1.5)
    assert np.abs(errors(rows, PUBLISHED)).max() < 6
    assert rows[rows["method"] == PUBLISHED]["covers_80"].sum() == 6


def test_the_load_as_it_stands_has_no_interval():
    rows = leave_one_workout_out(held([0.25, 0.27, 0.24]), seed=1)
    assert (rows[rows["method"] == AS_IT_STANDS]["width"] == 0).all()


def test_a_session_never_helps_to_correct_itself():
    alone, without = (
        leave_one_workout_out(held([first, 0.0, 0.01]), seed=1).query("name == '0' and method == @PUBLISHED")
        for first in (0.6, 0.3)
    )
    corrections = [
        (1 + rows["error"].item() / 100) * np.exp(first) for rows, first in ((alone, 0.6), (without, 0.3))
    ]
    assert corrections[0] == pytest.approx(corrections[1])


def test_parts_of_one_workout_are_held_out_together():
    rows = leave_one_workout_out(held([0.5, 0.5, 0.0], workouts="aab"), seed=1)
    assert rows[rows["method"] == PUBLISHED]["pairs"].tolist() == [1, 1, 2]


def test_forward_in_time_only_earlier_workouts_teach():
    rows = forward_in_time(held([0.2, 0.21, 0.22, 0.2, 0.21]), seed=1)
    assert rows[rows["method"] == PUBLISHED]["pairs"].tolist() == [2, 3, 4]


def of_draws(draws, truth=100.0):
    """Scores of a wrist whose prediction is made to be these draws of the load."""
    fit, _ = learn_wrist([], seed=1)

    class Told(type(fit)):
        def further_session(self, session):
            return np.log(draws / 100.0)

    told = Told(**vars(fit))
    trial = Trial("x", "ana", lifting()[0].session, 100.0, truth)
    return next(row for row in scores(told, trial, pairs=0) if row["method"] == PUBLISHED)


def test_the_ranked_probability_score_is_that_of_its_definition():
    """Mean distance from the truth less half that between two draws (Gneiting & Raftery 2007)."""
    draws = np.exp(np.random.default_rng(2).normal(4.6, 0.2, 512))
    by_definition = np.mean(np.abs(draws - 100)) - np.abs(draws[:, None] - draws).mean() / 2
    assert of_draws(draws)["crps"] == pytest.approx(by_definition)


def test_the_interval_score_punishes_a_miss_by_ten_times_its_distance():
    """2 / alpha of an 80% interval is 10 (Gneiting & Raftery 2007)."""
    draws = np.linspace(50, 60, 512)
    row = of_draws(draws)
    assert row["interval_score"] == pytest.approx(row["width"] + 10 * (100 - 59), abs=0.5)


def test_a_table_averages_within_athletes_first():
    rows = pd.concat([leave_one_workout_out(held([0.2, 0.2, 0.2]), seed=1)] * 2, ignore_index=True)
    rows.loc[rows.index[len(rows) // 2 :], "athlete"] = "ben"
    more = pd.concat([rows, rows[rows["athlete"] == "ben"].assign(error=50.0)])
    assert table(more, [])["athletes"].tolist() == [2] * rows["method"].nunique()
    before, after = (table(one, []).loc[PUBLISHED, "absolute error"] for one in (rows, more))
    assert after == pytest.approx((before + (before + 50) / 2) / 2)
