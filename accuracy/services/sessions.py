"""From stored evidence to the sessions and pairs that the wrist's fit is learned from and asked about."""

from __future__ import annotations

import math

from accuracy.core.learning.features import Texture, features_of
from accuracy.core.learning.profile import Cell
from accuracy.core.learning.wrist_fit import WristPair, WristSession
from accuracy.core.traces import states
from accuracy.models import Pair, Stretch
from trainlog.load.physiology import PhysiologyDraws
from trainlog.models import Part, Recording, Sensor

LEAST_LOAD = 1.0
"""Loads below this say nothing about a ratio (common practice, no source)."""


def content_of(part: Part, recording: Recording | None = None) -> str:
    """Content of a session: which bytes, and where in time; never a primary key."""
    return f"{recording.sha256 if recording else ''}/{part.start.timestamp():.0f}+{part.seconds}"


def wrist_cell(part: Part, sensor: Sensor) -> Cell:
    """Cell of a sensor on a part's day and activity."""
    return Cell(
        str(sensor.key), sensor.firmware_on(part.workout.day), part.activity.family, part.activity.slug
    )


def wrist_session(stretch: Stretch, physiology: PhysiologyDraws) -> WristSession:
    """What a tested sensor's stretch tells of its part; no trace is decoded.

    Parameters
    ----------
    stretch : Stretch
        With its part's workout and activity, and its recording's sensor and firmware.
    physiology : PhysiologyDraws
        In force on the day.

    Raises
    ------
    ValueError
        If the recording's sensor is not known; such a recording has no stretch.
    """
    part, sensor = stretch.part, stretch.recording.sensor
    if sensor is None:
        raise ValueError("a stretch is digested only once its sensor is known")
    held = states.from_bytes(bytes(stretch.states))
    texture = Texture(stretch.roughness, stretch.mean_cadence)
    return WristSession(
        cell=wrist_cell(part, sensor),
        content=content_of(part, stretch.recording),
        features=features_of(held, texture, part.seconds / 60, part.session_rpe, physiology),
        states=held,
        physiology=physiology,
        day=part.workout.day.toordinal(),
    )


def wrist_pair(pair: Pair, stretch: Stretch, physiology: PhysiologyDraws) -> WristPair | None:
    """What a usable pair teaches; None where its loads are too small for a ratio.

    Parameters
    ----------
    pair : Pair
    stretch : Stretch
        Of the pair's tested recording in its part.
    physiology : PhysiologyDraws
    """
    of_reference, of_tested = pair.histograms
    reference, tested = physiology.central_load(of_reference), physiology.central_load(of_tested)
    if min(reference, tested) < LEAST_LOAD:
        return None
    return WristPair(
        session=wrist_session(stretch, physiology),
        log_ratio=math.log(reference / tested),
        common_states=states.from_bytes(bytes(pair.common_states)),
        # By its instant and not its key: what is held out must not hang on the order of imports.
        workout=f"{pair.part.workout.start.timestamp():.0f}",
        reference_seconds_at_rate=of_reference,
    )
