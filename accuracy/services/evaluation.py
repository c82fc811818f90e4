"""Pairs to evaluate the correction on: of a log, or of the study folder."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from accuracy.core.evaluation.held_out import PairTrial, held_out
from accuracy.core.evaluation.study_data import StudySession, sessions
from accuracy.core.learning.features import features_of, texture_of
from accuracy.core.learning.profile import Cell
from accuracy.core.learning.wrist_fit import WristPair, WristSession
from accuracy.core.traces.artefacts import flag
from accuracy.core.traces.states import states_of
from accuracy.services.knowledge import learned_pairs, physiology_by_day
from accuracy.services.sessions import LEAST_LOAD
from trainlog.load.physiology import PhysiologyDraws
from trainlog.load.trimp import MEN, histogram
from trainlog.models import Athlete, Family

STUDY_PHYSIOLOGY = PhysiologyDraws(45.0, 190.0, 0.0, 0.0, MEN, seed=1)
"""Assumed for the study's athlete, of whom nothing is told: the resting rate somewhat above the lowest
rates of the second sensor (39 bpm), the maximum at will (our assumption, no source)."""

STUDY_FAMILIES = {
    "strength training": Family.RESISTANCE,
    "interval run": Family.INTERVALS,
}
"""Families of the study's activities; all others are steady endurance."""

LEAST_STUDY_SECONDS = 180
"""Common seconds below which a study session is left out and said to be."""


def study_sessions(folder: Path) -> tuple[list[PairTrial], list[str]]:
    """Sessions of the study folder, and a sentence for each that is left out.

    The second sensor stands in for a reference and is optical itself: errors here are disagreement
    between two optical sensors. No clock correction, as the folder's README pairs them.
    """
    kept, left_out = [], []
    for session in sessions(folder):
        reference, tested = session.at_whole_seconds()
        both = np.isfinite(reference) & np.isfinite(tested)
        if both.sum() < LEAST_STUDY_SECONDS:
            left_out.append(f"session {session.session}: only {both.sum()} common seconds")
            continue
        histograms = [histogram(trace[both]) for trace in (reference, tested)]
        loads = [STUDY_PHYSIOLOGY.central_load(seconds_at_rate) for seconds_at_rate in histograms]
        if min(loads) < LEAST_LOAD:
            left_out.append(
                f"session {session.session}: a load of {min(loads):.1f} says nothing about a ratio"
            )
            continue
        pair = _study_pair(session, reference, tested, float(np.log(loads[0] / loads[1])))
        kept.append(held_out(f"{session.session} {session.activity}", "study", pair))
    return kept, left_out


def _study_pair(
    session: StudySession, reference: np.ndarray, tested: np.ndarray, log_ratio: float
) -> WristPair:
    flags, content = flag(tested, principle="optical"), f"study/{session.session}"
    states = states_of(tested, flags)
    family = STUDY_FAMILIES.get(session.activity, Family.STEADY)
    wrist = WristSession(
        cell=Cell("wrist_a", "", family.value, session.activity),
        content=content,
        features=features_of(states, texture_of(tested, None), len(tested) / 60, None, STUDY_PHYSIOLOGY),
        states=states,
        physiology=STUDY_PHYSIOLOGY,
        day=session.session,
    )
    common = states_of(tested, flags, reference)
    of_reference = histogram(np.where(np.isfinite(tested), reference, np.nan))
    return WristPair(wrist, log_ratio, common, content, of_reference)


def log_sessions(athlete: Athlete) -> list[PairTrial]:
    """Usable pairs of a log in order of time; all pairs of one workout are held out together."""
    return [
        held_out(f"{pair.part.workout.day} {pair.tested.sensor}", str(athlete.pk), found)
        for pair, found in learned_pairs(athlete, physiology_by_day(athlete))
    ]
