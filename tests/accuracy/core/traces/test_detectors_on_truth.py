"""The small version of ``benchmarks/detectors.py``: the detectors against invented faults.

The bounds are what is measured on 60 invented hours, less a little; the full table is the benchmark's.
"""

import numpy as np
import pytest

from accuracy.core.traces.artefacts import Reason
from benchmarks.detectors import (
    NEARLY_CONSTANT,
    at_step_rate,
    confirmed,
    flagged_though_at_rest,
    score,
    simulated,
)


@pytest.fixture(scope="module")
def hours():
    return simulated(60, seed=10)


@pytest.fixture(scope="module")
def constant_hours():
    return simulated(60, NEARLY_CONSTANT, seed=11)


@pytest.mark.parametrize(
    ("reason", "precision", "recall"),
    [
        (Reason.DROP_OUT, 1.0, 1.0),
        (Reason.FLAT_LINE, 0.95, 0.8),
        (Reason.BEFORE_LOCK_ON, 0.85, 0.75),
        (Reason.STEP_RATE_LOCK, 0.85, 0.95),
    ],
)
def test_faults_are_found_and_what_is_flagged_is_a_fault(hours, reason, precision, recall):
    found = score(hours, reason)
    assert found.faults >= 15
    assert found.precision >= precision
    assert found.recall >= recall


def test_a_lock_on_a_nearly_constant_cadence_is_found(constant_hours):
    found = score(constant_hours, Reason.STEP_RATE_LOCK)
    assert found.recall >= 0.95
    assert found.precision >= 0.75


def test_locked_or_near_is_mostly_right_without_a_reference(hours):
    found = score(hours, Reason.STEP_RATE_LOCK, at_step_rate)
    assert found.precision >= 0.85
    assert found.recall >= 0.8


def test_a_reference_makes_locks_more_certain(constant_hours):
    alone = score(constant_hours, Reason.STEP_RATE_LOCK, at_step_rate)
    with_reference = score(constant_hours, Reason.STEP_RATE_LOCK, confirmed)
    assert with_reference.precision > alone.precision
    assert with_reference.precision >= 0.9
    assert with_reference.recall >= 0.9


def test_a_heart_that_rests_and_then_rises_is_seldom_taken_for_a_late_lock_on():
    flagged, sessions = np.sum(list(flagged_though_at_rest(60).values()), axis=0)
    assert sessions == 60
    assert flagged / sessions <= 0.15
