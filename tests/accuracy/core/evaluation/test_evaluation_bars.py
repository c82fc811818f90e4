"""The bars that corrections are held to: that they can fail, and that a small evaluation keeps them."""

from functools import lru_cache

import numpy as np
import pandas as pd
import pytest

from accuracy.core.evaluation.bars import CONSTANT, coverage_bars, error_bars, spoiled_bars
from accuracy.core.evaluation.held_out import AS_IT_STANDS, PUBLISHED
from accuracy.core.evaluation.simulate_athletes import SENSOR_TROUBLE, Trouble
from accuracy.core.evaluation.simulated_log import Setting, evaluate_athlete

ATHLETES = range(7000, 7008)
"""Not those that the method was developed on."""


def rows(error, *, coverage=0.8, pairs=8, athletes=40, rng=None):
    """Invented scores: errors by method, in per cent."""
    rng = rng or np.random.default_rng(1)
    sessions = 20
    return pd.concat(
        pd.DataFrame(
            {
                "athlete": np.repeat(np.arange(athletes), sessions),
                "family": "mixed",
                "pairs": pairs,
                "method": method,
                "error": size * rng.choice([-1.0, 1.0], athletes * sessions),
                "log_error": rng.normal(0, 0.3, athletes * sessions),
                "covers_80": rng.random(athletes * sessions) < coverage,
            }
        )
        for method, size in error.items()
    )


def named(bars, words):
    return next(bar for bar in bars if words in bar.name)


def test_a_correction_no_nearer_than_a_constant_breaks_its_bar():
    bars = error_bars(rows({AS_IT_STANDS: 30, CONSTANT: 15, PUBLISHED: 15}), broad=False)
    assert named(bars, "against constant").broken


def test_a_correction_well_below_the_constant_keeps_it():
    bars = error_bars(rows({AS_IT_STANDS: 30, CONSTANT: 15, PUBLISHED: 9}), broad=False)
    assert all(bar.holds for bar in bars)


def test_a_correction_worse_than_none_breaks_its_bar():
    bars = error_bars(rows({AS_IT_STANDS: 5, CONSTANT: 8, PUBLISHED: 7}), broad=True)
    assert named(bars, "above the better of raw and constant").broken


def test_intervals_that_hold_half_of_what_they_should_break_their_bars():
    shown = rows({PUBLISHED: 10}, coverage=0.5)
    assert named(coverage_bars(shown, shown, broad=False), "coverage overall").broken


def test_intervals_that_hold_nearly_everything_break_them_too():
    shown = rows({PUBLISHED: 10}, coverage=0.99)
    assert named(coverage_bars(shown, shown, broad=False), "coverage overall").broken


def test_spoiled_references_that_double_the_error_break_their_bar():
    clean, spoiled = rows({PUBLISHED: 10}), rows({PUBLISHED: 20})
    assert named(spoiled_bars(clean, spoiled), "error against the clean run").broken


@lru_cache
def evaluated(broad, *, spoiled=False):
    on = SENSOR_TROUBLE | ({Trouble.DRY_STRAP, Trouble.STRAP_DROP_OUTS} if spoiled else set())
    setting = Setting(broad, frozenset(on), (8,) if spoiled else (2, 8))
    found = [evaluate_athlete(seed, setting) for seed in ATHLETES]
    return tuple(pd.DataFrame([row for one in found for row in one[place]]) for place in (0, 1))


@pytest.mark.parametrize("broad", [False, True], ids=["narrow", "broad"])
def test_simulated_athletes_are_corrected_within_the_bars_bar_chance(broad):
    """Eight athletes, two standard errors of slack; the whole evaluation is `make evaluate`."""
    scored, sums = evaluated(broad)
    bars = [*error_bars(scored, broad=broad), *coverage_bars(scored, sums, broad=broad)]
    assert [bar for bar in bars if bar.broken] == []


def test_dry_straps_and_drop_outs_spoil_little_of_it():
    bars = spoiled_bars(evaluated(True)[0], evaluated(True, spoiled=True)[0])
    assert [bar for bar in bars if bar.broken] == []
