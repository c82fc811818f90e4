"""The likely-true trace of a wrist-only part, and mean, peak and time in bands that go with its load.

Computed when asked for: one trace is decoded, and the states of the pairs of the same family.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from accuracy.core import correct, states
from accuracy.core.artefacts import Reason, flag
from accuracy.core.leftovers import MeasuredRates, coefficients_of, learn_leftovers
from accuracy.core.likely_trace import LikelyRates, likely_band, likely_rates
from accuracy.models import Pair, Stretch
from accuracy.services.digest import slices_of
from accuracy.services.knowledge import Knowledge, PhysiologyOn, knowledge_of, physiology_by_day
from accuracy.services.profiles import current_fit
from accuracy.services.sessions import content_of, wrist_cell, wrist_session
from trainlog.load.physiology import PhysiologyDraws
from trainlog.models import Athlete, Basis, Family, LoadEstimate, Part, Sensor
from trainlog.trace import FloatArray

AS_IT_STANDS = frozenset({Basis.ACCEPTED, Basis.UNCORRECTED})
"""Bases of a wrist's load whose median is no correction at all."""

WRIST_ALONE = AS_IT_STANDS | {Basis.CORRECTED, Basis.COMBINED}
"""Bases of a load that rests on a tested sensor."""


@dataclass(frozen=True, eq=False)
class LikelyPart:
    """What is likely true of a wrist-only part's heart rate.

    Attributes
    ----------
    sensor : Sensor
        The tested one on which the load rests.
    pairs : int
        Usable pairs of the same family of activities, of any sensor.
    heart_rate : array, shape (seconds,)
        As recorded, in bpm, NaN where nothing valid was.
    low, middle, high : array, shape (seconds,)
        Likely-true trace with its 80% band, in bpm.
    rates : LikelyRates
    physiology : PhysiologyDraws
        In force on the day; its central values count.
    """

    sensor: Sensor
    pairs: int
    heart_rate: FloatArray
    low: FloatArray
    middle: FloatArray
    high: FloatArray
    rates: LikelyRates
    physiology: PhysiologyDraws

    @property
    def missing_seconds(self) -> int:
        """Seconds of which the wrist has nothing valid."""
        return int(np.isnan(self.heart_rate).sum())


def likely_of(athlete: Athlete, part: Part) -> LikelyPart | None:
    """What is likely true of the heart rate of one of the athlete's parts.

    Parameters
    ----------
    athlete : Athlete
    part : Part
        With its workout and activity.

    Returns
    -------
    LikelyPart or None
        None where the load shown does not rest on a tested sensor, or is out of date.
    """
    fit, physiology_on = current_fit(athlete), physiology_by_day(athlete)
    physiology = physiology_on(part.workout.day)
    estimate = LoadEstimate.objects.of(athlete).filter(part=part, source=athlete.current_source).first()
    if fit is None or physiology is None or estimate is None or not _rests_on_wrist(estimate, part):
        return None
    stretch = _stretch_of(athlete, part, estimate, physiology)
    if stretch is None or stretch.recording.sensor is None:
        return None
    return _likely(athlete, stretch, stretch.recording.sensor, estimate, knowledge_of(fit), physiology_on)


def _rests_on_wrist(estimate: LoadEstimate, part: Part) -> bool:
    current = estimate.input_revision == part.input_revision
    return current and estimate.basis in WRIST_ALONE and estimate.raw is not None


def _stretch_of(
    athlete: Athlete, part: Part, estimate: LoadEstimate, physiology: PhysiologyDraws
) -> Stretch | None:
    """The tested sensor's stretch that an estimate rests on; None if it is a reference's.

    An estimate does not name its recording, but keeps the load as recorded, which tells it.
    """
    stretches = (
        Stretch.objects.of(athlete)
        .filter(part=part, valid_seconds__gt=0)
        .select_related("part__workout", "part__activity", "recording__sensor")
        .prefetch_related("recording__sensor__firmware")
        .defer("recording__trace_blob")
        .order_by("recording__sha256")
    )
    for stretch in stretches:
        load = physiology.central_load(stretch.seconds_at_rate)
        if np.isclose(load, estimate.raw or 0.0, rtol=1e-6):
            return stretch if stretch.states else None
    return None


def _likely(
    athlete: Athlete,
    stretch: Stretch,
    sensor: Sensor,
    estimate: LoadEstimate,
    knowledge: Knowledge,
    physiology_on: PhysiologyOn,
) -> LikelyPart | None:
    part, fit = stretch.part, knowledge.wrist
    piece = next((one for one in slices_of(part) if one.recording.pk == stretch.recording_id), None)
    physiology = physiology_on(part.workout.day)
    if piece is None or physiology is None:
        return None
    flags = flag(piece.heart_rate, principle="optical", cadence=piece.cadence)
    heart_rate = np.where(flags.has(Reason.OUT_OF_RANGE), np.nan, piece.heart_rate)
    session = wrist_session(stretch, physiology)
    log_ratio = fit.further_session(session)
    if estimate.basis in AS_IT_STANDS:
        log_ratio = correct.as_it_stands(log_ratio)
    measured = _measured(athlete, part.activity.family, physiology_on)
    rates = likely_rates(session, log_ratio, fit, learn_leftovers(measured, fit), seconds=part.seconds)
    coefficients = coefficients_of(session.cell.group, fit)
    low, middle, high = likely_band(heart_rate, flags, physiology, coefficients, rates)
    return LikelyPart(sensor, len(measured), heart_rate, low, middle, high, rates, physiology)


def _measured(athlete: Athlete, family: Family | str, physiology_on: PhysiologyOn) -> Sequence[MeasuredRates]:
    """What the usable pairs of a family tell of rates; no trace is fetched."""
    pairs = (
        Pair.objects.of(athlete)
        .filter(usable=True, part__activity__family=family)
        .exclude(common_states=b"")
        .select_related("part__workout", "part__activity", "tested__sensor")
        .prefetch_related("tested__sensor__firmware")
        .defer("reference_trace", "tested_trace", "tested__trace_blob", "agreement")
        .order_by("part__start", "tested__sha256", "reference_id")
    )
    found = []
    for pair in pairs:
        physiology = physiology_on(pair.part.workout.day)
        if physiology is not None and pair.tested.sensor is not None:
            found.append(
                MeasuredRates(
                    wrist_cell(pair.part, pair.tested.sensor),
                    content_of(pair.part, pair.tested),
                    states.from_bytes(bytes(pair.common_states)),
                    pair.histograms[0],
                    physiology,
                )
            )
    return found
