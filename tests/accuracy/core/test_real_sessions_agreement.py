"""Nineteen real sessions of one athlete, https://github.com/sathomas/e5analysis (CC0), kept elsewhere.

The second sensor is optical too: these figures are agreement, not accuracy. TRAINLOG_SHARED names the folder
above ``data``; by default it lies beside the repository.
"""

import os
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from accuracy.core.agreement import agree
from accuracy.core.align import estimate_shift, shifted
from accuracy.core.evaluation_data import sessions

SHARED = Path(os.environ.get("TRAINLOG_SHARED", Path(__file__).parents[4] / "shared"))
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


def test_sessions_whose_clocks_agree_by_construction_are_never_moved(study):
    """Sessions 3, 9-12 and 19: the reference was merged into a copy of the tested sensor's file."""
    for number in (3, 9, 10, 11, 12, 19):
        assert estimate_shift(*study[number].at_whole_seconds()).seconds == 0


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
