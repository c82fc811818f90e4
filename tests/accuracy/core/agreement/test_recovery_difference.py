"""Hours of recovery by either trace of a pair, and their difference."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from accuracy.core.agreement.recovery_difference import recovery_difference
from trainlog.load.draws import DRAWS
from trainlog.load.physiology import PhysiologyDraws
from trainlog.load.trimp import MEN, histogram

BODY = PhysiologyDraws(50, 190, 3, 10, MEN, seed=3, first_threshold=140, second_threshold=165)
USUAL = np.full(DRAWS, 60.0)


def steady(bpm, minutes=40):
    return histogram(np.full(60 * minutes, float(bpm)))


def test_a_sensor_that_reads_a_hard_session_low_shortens_its_recovery():
    found = recovery_difference(steady(172), steady(150), USUAL, BODY)
    assert found.reference.low >= 48
    assert found.tested.high <= 48
    assert found.difference.high < 0


@given(st.integers(80, 185))
def test_traces_that_agree_have_no_difference_whatever_the_athlete(bpm):
    found = recovery_difference(steady(bpm), steady(bpm), USUAL, BODY)
    assert (found.difference.low, found.difference.median, found.difference.high) == (0, 0, 0)


def test_what_is_not_known_of_the_athlete_is_in_the_hours_and_shared_by_both():
    found = recovery_difference(steady(150), steady(148), USUAL, BODY)
    width = found.reference.high - found.reference.low
    assert found.difference.high - found.difference.low < 0.2 * width


def test_without_a_usual_load_the_references_own_counts_as_usual():
    own = np.full(DRAWS, BODY.central_load(steady(150)))
    assert recovery_difference(steady(150), steady(140), None, BODY) == recovery_difference(
        steady(150), steady(140), own, BODY
    )


def test_a_reference_without_load_is_refused():
    with pytest.raises(ValueError, match="says nothing of recovery"):
        recovery_difference(steady(40), steady(60), None, BODY)
