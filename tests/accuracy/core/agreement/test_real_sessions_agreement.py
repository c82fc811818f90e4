"""Nineteen real sessions of one athlete, https://github.com/sathomas/e5analysis (CC0), kept elsewhere.

The second sensor is optical too: these figures are agreement, not accuracy. TRAINLOG_SHARED names the folder
above ``data``; by default it lies beside the repository.
"""

import os
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from accuracy.core.agreement.pair_agreement import agree
from accuracy.core.evaluation.study_data import sessions
from accuracy.core.traces.align import estimate_shift, shifted
from accuracy.core.traces.faults import departures

SHARED = Path(os.environ.get("TRAINLOG_SHARED", Path(__file__).parents[5] / "shared"))
FOLDER = SHARED / "data" / "one_athlete_many_sessions"

pytestmark = pytest.mark.skipif(not FOLDER.is_dir(), reason=f"the study folder {FOLDER} is absent")


@pytest.fixture(scope="module")
def study():
    return {session.session: session for session in sessions(FOLDER)}


@pytest.fixture(scope="module")
def published():
    return pd.read_csv(FOLDER / "sessions.csv").set_index("session")


@pytest.mark.parametrize("number", range(1, 20))
def test_bias_and_absolute_error_match_the_study(study, published, number):
    """Every tested sample of the overlap, reference interpolated across at most 5 s, no clock correction."""
    figures = agree(*study[number].at_tested_times())
    assert figures.common_seconds == published.loc[number, "n_pairs"]
    assert figures.bias == pytest.approx(published.loc[number, "bias"], abs=0.02)
    assert figures.mean_absolute_error == pytest.approx(published.loc[number, "mae"], abs=0.02)


def test_figures_by_activity_match_the_study(study):
    """Pooled over all sessions of an activity: sd, limits, percentage error, r of figures_by_activity.csv."""
    table = pd.read_csv(FOLDER / "figures_by_activity.csv").set_index("activity")
    for activity, row in table.iterrows():
        pairs = [s.at_tested_times() for s in study.values() if activity in (s.activity, "all")]
        figures = agree(*(np.concatenate(parts) for parts in zip(*pairs, strict=True)))
        assert figures.sd == pytest.approx(row["sd"], abs=0.01)
        assert figures.lower_limit == pytest.approx(row["loa_low"], abs=0.02)
        assert figures.mean_absolute_percentage_error == pytest.approx(row["mape"], abs=0.01)
        assert figures.pearson_r == pytest.approx(row["r"], abs=0.001)


def test_sessions_whose_clocks_agree_by_construction_move_by_no_more_than_a_sensors_lag(study):
    """Sessions 3, 9-12 and 19: the reference was merged into a copy of the tested sensor's file.

    In session 9 the reference follows about 5 s late, by the study's notes 2 to 4 s: a lag, and no clock.
    Nothing in two traces tells the one from the other.
    """
    found = {n: estimate_shift(*study[n].at_whole_seconds()) for n in (3, 9, 10, 11, 12, 19)}
    assert {n: shift.seconds for n, shift in found.items() if shift.seconds} == {
        9: pytest.approx(-4.8, abs=0.5)
    }
    assert all(shift.ambiguous for n, shift in found.items() if n != 9)


@pytest.mark.parametrize("number", [5, 9, 15])
def test_steady_sessions_that_correlate_above_nine_tenths_are_always_aligned(study, number):
    """The own lag of each pair is unknown, so the injections are compared with each other."""
    reference, tested = study[number].at_whole_seconds()
    found = {s: estimate_shift(reference, shifted(tested, s)) for s in (-60, -31, -4, 4, 12.3, 60)}
    assert not any(shift.ambiguous for shift in found.values())
    lags = [shift.seconds - s for s, shift in found.items()]
    assert max(lags) - min(lags) < 1


@pytest.mark.parametrize(("number", "most"), [(3, 0.3), (8, 0.25), (12, 0.3), (13, 0.15)])
def test_sessions_known_to_read_far_too_high_while_running_show_it(study, number, most):
    """By the study's notes probably locked on the step rate; no cadence is at hand to tell.

    The departures stand at rates that a runner's steps have, 140 to 190 a minute.
    """
    reference, tested = study[number].at_whole_seconds()
    high = [d for d in departures(reference, tested) if d.mean_difference > 10]
    assert sum(d.end - d.start for d in high) > most * len(reference)
    assert all(135 < d.mean_tested < 190 for d in high if d.end - d.start > 300)


def test_sessions_known_to_agree_closely_show_hardly_a_departure(study):
    for number in (5, 9, 15):
        reference, tested = study[number].at_whole_seconds()
        assert sum(d.end - d.start for d in departures(reference, tested)) < 0.05 * len(reference)


@pytest.mark.parametrize(("number", "apart"), [(5, 1), (15, 1), (13, 2)])
def test_injected_shifts_are_found_to_a_second_where_traces_correlate_and_to_two_elsewhere(
    study, number, apart
):
    """The own lag of each pair is unknown, so the injections are compared with each other."""
    reference, tested = study[number].at_whole_seconds()
    found = {s: estimate_shift(reference, shifted(tested, s)) for s in (-45.5, -20, 20, 45.5)}
    sure = {s: shift for s, shift in found.items() if not shift.ambiguous}
    assert len(sure) >= 3
    lags = [shift.seconds - s for s, shift in sure.items()]
    assert max(lags) - min(lags) < apart
    assert abs(np.mean(lags)) < 6
