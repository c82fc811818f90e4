"""The likely-true trace of a wrist-only part, and mean, peak and time in bands that go with its load.

Computed when asked for: one trace is decoded.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from accuracy.core.estimates import correct
from accuracy.core.estimates.leftovers import coefficients_of
from accuracy.core.estimates.likely_trace import LikelyRates, likely_band, likely_rates
from accuracy.core.learning.wrist_fit import WristSession
from accuracy.core.traces.artefacts import Reason, flag
from accuracy.models import Fit, Stretch
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
    part : Part
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

    part: Part
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
    return next(iter(likely_of_parts(athlete, [part])), None)


def likely_of_parts(athlete: Athlete, parts: Sequence[Part]) -> list[LikelyPart]:
    """The same of several parts, those that have none left out; what was learned is read once."""
    found = []
    known: tuple[Fit, Knowledge] | None = None
    physiology_on = physiology_by_day(athlete)
    for part in parts:
        physiology, estimate = physiology_on(part.workout.day), current_estimate(athlete, part)
        if physiology is None or estimate is None or not rests_on_wrist(estimate):
            continue
        stretch = stretch_of(athlete, part, estimate, physiology)
        if stretch is None:
            continue
        known = known or readable_fit(athlete)
        if known is None:
            break
        likely = _likely(stretch, estimate, known[1], physiology)
        if likely is not None:
            found.append(likely)
    return found


def readable_fit(athlete: Athlete) -> tuple[Fit, Knowledge] | None:
    """The fit on show with what it learned; None where another version of the program kept it."""
    fit = current_fit(athlete)
    # What another version kept is about to be replaced.
    return (fit, knowledge_of(fit)) if fit is not None and fit.method_version == METHOD_VERSION else None


def current_estimate(athlete: Athlete, part: Part, measure: str = Measure.TRIMP) -> LoadEstimate | None:
    """Estimate on show of a part; None where the part has changed since."""
    estimates = LoadEstimate.objects.of(athlete).filter(
        part=part, measure=measure, source=athlete.current_source, input_revision=part.input_revision
    )
    return estimates.first()


def rests_on_wrist(estimate: LoadEstimate) -> bool:
    """Whether a load rests on a tested sensor's recording."""
    return estimate.basis in WRIST_ALONE and estimate.raw is not None


def stretch_of(
    athlete: Athlete, part: Part, estimate: LoadEstimate, physiology: PhysiologyDraws
) -> Stretch | None:
    """The tested sensor's stretch that an estimate rests on; None if it is a reference's.

    An estimate does not name its recording, but keeps the load as recorded, which tells it.
    """
    for stretch in stretches_of(athlete, part):
        load = physiology.central_load(stretch.seconds_at_rate)
        if np.isclose(load, estimate.raw or 0.0, rtol=1e-6):
            return stretch if stretch.states and stretch.recording.sensor else None
    return None


def stretches_of(athlete: Athlete, part: Part) -> list[Stretch]:
    """Stretches of a part's recordings that hold anything, in order of content; no trace is fetched."""
    return list(
        Stretch.objects.of(athlete)
        .filter(part=part, valid_seconds__gt=0)
        .select_related("part__workout", "part__activity", "recording__sensor")
        .prefetch_related("recording__sensor__firmware")
        .defer("recording__trace_blob")
        .order_by("recording__sha256")
    )


def rates_of(stretch: Stretch, session: WristSession, basis: str, knowledge: Knowledge) -> LikelyRates:
    """Mean, peak and time in bands that go with the load of a tested sensor's stretch.

    Parameters
    ----------
    stretch : Stretch
    session : WristSession
        Of the stretch.
    basis : str
        Of the load: one that stands as it is moves no rate.
    knowledge : Knowledge
    """
    log_ratio = knowledge.wrist.further_session(session)
    if basis in AS_IT_STANDS:
        log_ratio = correct.as_it_stands(log_ratio)
    return likely_rates(
        session, log_ratio, knowledge.wrist, knowledge.leftovers, seconds=stretch.part.seconds
    )


def pairs_alike(session: WristSession, knowledge: Knowledge) -> int:
    """Usable pairs of the same family of activities, of any sensor."""
    counts = knowledge.wrist.pooled.counts.items()
    return sum(count for cell, count in counts if cell.family == session.cell.family)


def _likely(
    stretch: Stretch, estimate: LoadEstimate, knowledge: Knowledge, physiology: PhysiologyDraws
) -> LikelyPart | None:
    part, sensor = stretch.part, stretch.recording.sensor
    piece = next((one for one in slices_of(part) if one.recording.pk == stretch.recording_id), None)
    if piece is None or sensor is None:
        return None
    flags = flag(piece.heart_rate, principle="optical", cadence=piece.cadence)
    heart_rate = np.where(flags.has(Reason.OUT_OF_RANGE), np.nan, piece.heart_rate)
    session = wrist_session(stretch, physiology)
    rates = rates_of(stretch, session, estimate.basis, knowledge)
    coefficients = coefficients_of(session.cell.group, knowledge.wrist)
    low, middle, high = likely_band(heart_rate, flags, physiology, coefficients, rates)
    alike = pairs_alike(session, knowledge)
    return LikelyPart(part, sensor, alike, heart_rate, low, middle, high, rates, physiology)
