"""Pairs to evaluate the correction on: of a log, or of the study folder."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from accuracy.core.evaluate import HeldOut, evidence
from accuracy.core.evaluation_data import sessions
from accuracy.core.profile import Cell
from accuracy.services.knowledge import LEAST_LOAD, paired_loads, physiology_by_day
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


def study_sessions(folder: Path) -> tuple[list[HeldOut], list[str]]:
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
        loads = [STUDY_PHYSIOLOGY.central_load(histogram(trace[both])) for trace in (reference, tested)]
        if min(loads) < LEAST_LOAD:
            left_out.append(
                f"session {session.session}: a load of {min(loads):.1f} says nothing about a ratio"
            )
            continue
        family = STUDY_FAMILIES.get(session.activity, Family.STEADY)
        cell = Cell("wrist_a", "", family.value, session.activity)
        name = f"{session.session}"
        kept.append(evidence(name, cell, *loads, workout=name, content=f"study/{name}"))
    return kept, left_out


def log_sessions(athlete: Athlete) -> list[HeldOut]:
    """Usable pairs of a log; all pairs of one workout are held out together."""
    return [
        evidence(
            f"{found.pair.part.workout.day} {found.pair.tested.sensor}",
            found.cell,
            found.reference_load,
            found.tested_load,
            workout=str(found.pair.part.workout_id),
            content=found.content,
        )
        for found in paired_loads(athlete, physiology_by_day(athlete))
    ]
