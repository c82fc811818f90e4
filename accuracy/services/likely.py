"""The likely-true trace of a wrist-only part, and mean, peak and time in bands that go with its load.

Computed when asked for: one trace is decoded.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from accuracy.core.estimates import correct
from accuracy.core.estimates.leftovers import coefficients_of
from accuracy.core.estimates.likely_trace import LikelyRates, likely_band, likely_rates
from accuracy.core.traces.artefacts import Reason, flag
from accuracy.models import Stretch
from accuracy.services.digest import slices_of
from accuracy.services.knowledge import Knowledge, knowledge_of, physiology_by_day
from accuracy.services.measures import WRIST_ALONE
from accuracy.services.method import METHOD_VERSION
from accuracy.services.profiles import current_fit
from accuracy.services.sessions import wrist_session
from trainlog.load.physiology import PhysiologyDraws
from trainlog.models import Athlete, Basis, LoadEstimate, Measure, Part, Sensor
from trainlog.trace import FloatArray

AS_IT_STANDS = frozenset({Basis.ACCEPTED, Basis.UNCORRECTED})
"""Bases of a wrist's load whose median is no correction at all."""


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
    fit, physiology = current_fit(athlete), physiology_by_day(athlete)(part.workout.day)
    estimate = (
        LoadEstimate.objects.of(athlete)
        .filter(part=part, measure=Measure.TRIMP, source=athlete.current_source)
        .first()
    )
    if fit is None or physiology is None or estimate is None or not _rests_on_wrist(estimate, part):
        return None
    if fit.method_version != METHOD_VERSION:  # kept by another version of the program, about to be replaced
        return None
    stretch = _stretch_of(athlete, part, estimate, physiology)
    if stretch is None or stretch.recording.sensor is None:
        return None
    return _likely(stretch, stretch.recording.sensor, estimate, knowledge_of(fit), physiology)


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
    stretch: Stretch,
    sensor: Sensor,
    estimate: LoadEstimate,
    knowledge: Knowledge,
    physiology: PhysiologyDraws,
) -> LikelyPart | None:
    part, fit = stretch.part, knowledge.wrist
    piece = next((one for one in slices_of(part) if one.recording.pk == stretch.recording_id), None)
    if piece is None:
        return None
    flags = flag(piece.heart_rate, principle="optical", cadence=piece.cadence)
    heart_rate = np.where(flags.has(Reason.OUT_OF_RANGE), np.nan, piece.heart_rate)
    session = wrist_session(stretch, physiology)
    log_ratio = fit.further_session(session)
    if estimate.basis in AS_IT_STANDS:
        log_ratio = correct.as_it_stands(log_ratio)
    rates = likely_rates(session, log_ratio, fit, knowledge.leftovers, seconds=part.seconds)
    coefficients = coefficients_of(session.cell.group, fit)
    low, middle, high = likely_band(heart_rate, flags, physiology, coefficients, rates)
    alike = sum(count for cell, count in fit.pooled.counts.items() if cell.family == session.cell.family)
    return LikelyPart(sensor, alike, heart_rate, low, middle, high, rates, physiology)
