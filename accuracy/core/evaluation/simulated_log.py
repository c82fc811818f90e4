"""Simulated athletes learned from and predicted: nested sets of pairs, further sessions, sums of weeks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from accuracy.core.estimates.correct import LEAST_RECORDED, Recorded
from accuracy.core.evaluation.held_out import PUBLISHED, Trial, predictions, scores, whole_part
from accuracy.core.evaluation.simulate_athletes import SimulatedSession, Trouble, simulate_athlete
from accuracy.core.learning.features import features_of, texture_of
from accuracy.core.learning.profile import Cell
from accuracy.core.learning.wrist_fit import WristFit, WristPair, WristSession, learn_wrist
from accuracy.core.traces.artefacts import flag
from accuracy.core.traces.pairing import pair_up
from accuracy.core.traces.states import common_states, states_of
from trainlog.load.draws import DRAWS, interval
from trainlog.load.physiology import PhysiologyDraws
from trainlog.load.trimp import histogram, trimp

ACTIVITIES = ("run", "interval-run", "lifting", "mixed-intervals")
"""One of each family."""

FIRST_FURTHER = 1000
"""Number of the first wrist-only session; pairs are numbered from 0."""

LEAST_LOAD = 1.0
"""Loads below this say nothing about a ratio."""

WEEKS = 13
"""Of a sum: a season's quarter."""

WEEKLY = {"run": 2, "interval-run": 1, "lifting": 2, "mixed-intervals": 1}
"""Wrist-only sessions of a week (ours)."""

INDEPENDENT = "independent draws"
"""The wrong sum: each session's draws shuffled, so that nothing is shared."""


@dataclass(frozen=True)
class Setting:
    """What a set of athletes is simulated under.

    Attributes
    ----------
    broad : bool
        Whether the sessions of an athlete differ widely in intensity and structure.
    switched_on : frozenset of Trouble
    pair_counts : tuple of int
        Pairs a cell to learn from, each set holding the smaller ones.
    """

    broad: bool
    switched_on: frozenset[Trouble]
    pair_counts: tuple[int, ...]


def evaluate_athlete(seed: int, setting: Setting) -> tuple[list[dict[str, object]], list[dict[str, object]]]:
    """Learn from a simulated athlete's pairs and predict the wrist-only sessions of 13 weeks.

    Parameters
    ----------
    seed : int
        Of the athlete.
    setting : Setting

    Returns
    -------
    tuple of lists of dict
        Rows of ``evaluate.scores``, and a row for each sum of 13 weeks.
    """
    athlete = simulate_athlete(seed, broad=setting.broad, switched_on=setting.switched_on)
    physiology = PhysiologyDraws(athlete.resting, athlete.maximum, 0.0, 0.0, athlete.weighting, seed)
    simulated = [
        (place, athlete.session(activity, place, paired=True))
        for activity in ACTIVITIES
        for place in range(max(setting.pair_counts))
    ]
    pairs = [
        (place, pair)
        for place, one in simulated
        if (pair := pair_of(one, physiology, athlete.firmware_day)) is not None
    ]
    further = [
        athlete.session(activity, FIRST_FURTHER + place, paired=False)
        for activity in ACTIVITIES
        for place in range(WEEKS * WEEKLY[activity])
    ]
    trials = [
        trial for one in further if (trial := trial_of(one, physiology, athlete.firmware_day)) is not None
    ]
    rows: list[dict[str, object]] = []
    sums: list[dict[str, object]] = []
    for count in setting.pair_counts:
        fit, _ = learn_wrist([pair for place, pair in pairs if place < count], seed=seed)
        for trial in trials:
            rows += scores(fit, trial, pairs=count)
        sums += _sums(fit, trials, count)
    return rows, sums


def pair_of(
    session: SimulatedSession, physiology: PhysiologyDraws, firmware_day: int | None = None
) -> WristPair | None:
    """Pair of a simulated session, its clocks aligned as any pair's; None if it is set aside.

    Parameters
    ----------
    session : SimulatedSession
    physiology : PhysiologyDraws
    firmware_day : int, optional
        Day on which the athlete noted a new firmware.
    """
    paired = pair_up(session.reference, session.tested, cadence=session.cadence, clocks_synchronised=False)
    if not paired.usable:
        return None
    histograms = [histogram(trace) for trace in (paired.reference, paired.tested)]
    loads = [physiology.central_load(seconds_at_rate) for seconds_at_rate in histograms]
    if min(loads) < LEAST_LOAD:
        return None
    common = common_states(paired, session.cadence)
    wrist = _wrist_session(session, physiology, firmware_day)
    return WristPair(wrist, float(np.log(loads[0] / loads[1])), common, session.content, histograms[0])


def trial_of(
    session: SimulatedSession, physiology: PhysiologyDraws, firmware_day: int | None = None
) -> Trial | None:
    """Trial of a simulated wrist-only session; None where the wrist recorded too little to go by."""
    valid = int(np.isfinite(session.tested).sum())
    recorded = Recorded(histogram(session.tested), len(session.tested), valid, session.content)
    load = physiology.central_load(recorded.seconds_at_rate)
    if recorded.share < LEAST_RECORDED or load < LEAST_LOAD:
        return None
    true_load = trimp(session.truth, physiology.resting, physiology.maximum, physiology.weighting)
    athlete = session.content.partition("/")[0]
    wrist = _wrist_session(session, physiology, firmware_day)
    return whole_part(session.content, athlete, wrist, load, recorded, true_load)


def _wrist_session(
    session: SimulatedSession, physiology: PhysiologyDraws, firmware_day: int | None
) -> WristSession:
    flags = flag(session.tested, principle="optical", cadence=session.cadence)
    states = states_of(session.tested, flags)
    texture = texture_of(session.tested, session.cadence)
    minutes = len(session.tested) / 60
    features = features_of(states, texture, minutes, session.session_rpe, physiology)
    updated = firmware_day is not None and session.day >= firmware_day
    cell = Cell("wrist", "2" if updated else "1", session.family, session.activity)
    return WristSession(cell, session.content, features, states, physiology, session.day)


def _sums(fit: WristFit, trials: Sequence[Trial], pairs: int) -> list[dict[str, object]]:
    """Whether the interval of a sum holds the true sum, with what sessions share kept and thrown away."""
    drawn = [predictions(fit, trial)[PUBLISHED] for trial in trials]
    truth = sum(trial.true_load for trial in trials)
    rng = np.random.default_rng(0)
    apart = [draws[rng.permutation(DRAWS)] for draws in drawn]
    rows: list[dict[str, object]] = []
    for method, vectors in ((PUBLISHED, drawn), (INDEPENDENT, apart)):
        total = np.sum(vectors, axis=0)
        low, median, high = interval(total)
        rows.append(
            {
                "athlete": trials[0].athlete,
                "pairs": pairs,
                "method": method,
                "error": 100 * (median / truth - 1),
                "width": 100 * (high - low) / truth,
                "covers_80": float(low <= truth <= high),
            }
        )
    return rows
