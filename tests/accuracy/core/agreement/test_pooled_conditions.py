import numpy as np
import pytest

from accuracy.core.agreement.conditions import error_by_direction, error_by_intensity
from accuracy.core.agreement.pooled import pool
from accuracy.core.agreement.pooled_conditions import pool_conditions
from trainlog.load.trimp import MEN

GIVEN = {"resting": 50.0, "maximum": 190.0, "weighting": MEN}


def session(seed, seconds=900):
    rng = np.random.default_rng(seed)
    reference = 125 + 35 * np.sin(np.arange(seconds) / 60 + seed)
    tested = reference + rng.normal(-3 + seed, 4, seconds)
    return reference, tested


SESSIONS = [session(seed, 900 + 100 * seed) for seed in range(4)]


def test_all_sessions_of_one_physiology_together_are_as_one_long_session():
    whole = tuple(np.concatenate([pair[side] for pair in SESSIONS]) for side in (0, 1))
    pooled = pool_conditions([error_by_intensity(*pair, **GIVEN) for pair in SESSIONS])
    for row, expected in zip(pooled, error_by_intensity(*whole, **GIVEN), strict=True):
        assert (row.condition, row.seconds) == (expected.condition, expected.seconds)
        if expected.seconds:
            assert row.bias == pytest.approx(expected.bias)
            assert row.sd == pytest.approx(expected.sd)
            assert row.mean_absolute_error == pytest.approx(expected.mean_absolute_error)
            assert row.share_within_either == pytest.approx(expected.share_within_either)


def test_the_interval_is_that_of_the_pooled_bias_where_every_second_is_of_one_condition():
    sessions = [(np.full(600 + 60 * k, 120.0), np.full(600 + 60 * k, 117.0 - k)) for k in range(4)]
    rows = pool_conditions([error_by_intensity(*pair, **GIVEN) for pair in sessions])
    moderate = next(row for row in rows if row.seconds)
    bias = pool(sessions).figures["bias"]
    assert (moderate.bias, moderate.bias_low, moderate.bias_high) == pytest.approx(
        (bias.value, bias.low, bias.high)
    )


def test_the_order_of_sessions_does_not_matter():
    rows = [error_by_direction(*pair, **GIVEN) for pair in SESSIONS]
    for one, other in zip(pool_conditions(rows), pool_conditions(rows[::-1]), strict=True):
        assert one.as_dict() == pytest.approx(other.as_dict())


def test_a_session_without_a_second_of_a_condition_is_not_counted_in_it():
    rows = [error_by_intensity(np.full(600, rate), np.full(600, rate), **GIVEN) for rate in (120.0, 180.0)]
    assert {row.condition: row.sessions for row in pool_conditions(rows)} == {
        "very light": 0,
        "light": 0,
        "moderate": 1,
        "vigorous": 0,
        "near-maximal": 1,
    }


def test_two_sessions_give_no_interval():
    rows = [error_by_direction(*pair, **GIVEN) for pair in SESSIONS[:2]]
    assert all(np.isnan(row.bias_low) and np.isnan(row.bias_high) for row in pool_conditions(rows))


def test_a_condition_that_nobody_met_is_empty_and_plain():
    row = pool_conditions([error_by_intensity(np.full(60, 120.0), np.full(60, 118.0), **GIVEN)])[0]
    assert (row.sessions, row.seconds) == (0, 0)
    assert row.as_dict()["bias"] is None
