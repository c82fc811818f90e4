"""The wrist's error by state of its trace."""

from dataclasses import replace

import numpy as np
import pytest

from accuracy.core.learning.trace_model import (
    LARGEST_ERROR,
    TERMS,
    TraceModel,
    basis,
    corrected_rates,
    log_gain,
    trace_evidence,
)
from accuracy.core.traces.states import States
from trainlog.load.physiology import PhysiologyDraws
from trainlog.load.trimp import MEN

BODY = PhysiologyDraws(50.0, 190.0, 0.0, 0.0, MEN, 1)

TRUE_ERROR = np.array([3.0, -2.0, 1.0, 4.0, -3.0, 6.0, 2.0, 8.0, -5.0])
"""Coefficients of an error that is linear in the states' terms, bpm."""


def random_states(seed, count=80):
    rng = np.random.default_rng(seed)
    return States(
        rate=rng.uniform(80, 180, count),
        slope=rng.integers(0, 5, count),
        early=rng.integers(0, 4, count),
        flagged=rng.integers(0, 4, count),
        seconds=rng.integers(1, 60, count).astype(float),
        difference=np.full(count, np.nan),
    )


def evidence(seed, *, error=TRUE_ERROR, group="wrist/family/steady"):
    states = random_states(seed)
    return trace_evidence(group, replace(states, difference=basis(states, BODY) @ error), BODY)


def test_an_error_linear_in_the_states_is_recovered_from_enough_pairs():
    model = TraceModel([evidence(seed) for seed in range(400)])
    assert model.coefficients("wrist/family/steady") == pytest.approx(TRUE_ERROR, abs=0.3)


def test_without_pairs_no_error_is_expected():
    assert TraceModel([]).coefficients("any").tolist() == [0.0] * TERMS


def test_few_pairs_move_the_coefficients_part_of_the_way():
    few, many = (TraceModel([evidence(seed) for seed in range(count)]) for count in (1, 100))
    apart = [np.linalg.norm(TRUE_ERROR - model.coefficients("wrist/family/steady")) for model in (few, many)]
    assert apart[1] < apart[0] < np.linalg.norm(TRUE_ERROR)


def test_an_instrument_never_seen_gets_what_all_share():
    model = TraceModel([evidence(seed) for seed in range(50)])
    unseen = model.coefficients("other/family/steady")
    assert 0 < np.linalg.norm(unseen) < np.linalg.norm(model.coefficients("wrist/family/steady"))


def test_groups_that_err_differently_are_told_apart():
    one = [evidence(seed, group="a") for seed in range(100)]
    other = [evidence(seed, group="b", error=-TRUE_ERROR) for seed in range(100, 200)]
    model = TraceModel(one + other)
    assert model.coefficients("a") == pytest.approx(TRUE_ERROR, abs=1.5)
    assert model.coefficients("b") == pytest.approx(-TRUE_ERROR, abs=1.5)


@pytest.mark.parametrize("left_out", [[0], [2, 4], [0, 1, 2, 3, 4, 5]])
def test_leaving_pairs_out_equals_learning_without_them(left_out):
    known = [evidence(seed, group="ab"[seed % 2]) for seed in range(6)]
    rest = TraceModel([one for place, one in enumerate(known) if place not in left_out])
    without = TraceModel(known).without(left_out)
    for place, coefficients in zip(left_out, without, strict=True):
        assert coefficients == pytest.approx(rest.coefficients(known[place].group), abs=1e-8)


def test_leaving_pairs_out_leaves_the_model_as_it_was():
    model = TraceModel([evidence(seed) for seed in range(4)])
    before = model.coefficients("wrist/family/steady").copy()
    model.without([1, 3])
    assert model.coefficients("wrist/family/steady").tolist() == before.tolist()


def test_a_long_session_says_no_more_than_a_short_one():
    states = replace(random_states(1), difference=np.full(80, 4.0))
    short = trace_evidence("g", states, BODY)
    long = trace_evidence("g", replace(states, seconds=10 * states.seconds), BODY)
    assert long.pull == pytest.approx(short.pull)
    assert long.precision == pytest.approx(short.precision)


def test_without_an_error_the_load_gains_nothing():
    assert log_gain(random_states(1), np.zeros(TERMS), BODY) == 0.0


def test_missing_beats_made_good_gain_load():
    missing = np.zeros(TERMS)
    missing[0] = 5.0
    assert log_gain(random_states(1), missing, BODY) > 0 > log_gain(random_states(1), -missing, BODY)


def test_a_load_of_nothing_gains_nothing():
    resting = replace(random_states(1), rate=np.full(80, 45.0))
    assert log_gain(resting, np.zeros(TERMS), BODY) == 0.0


def test_no_correction_goes_beyond_the_largest_error():
    states, wild = random_states(1), 1000 * TRUE_ERROR
    assert np.max(np.abs(corrected_rates(states, wild, BODY) - states.rate)) == pytest.approx(LARGEST_ERROR)
