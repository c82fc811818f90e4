"""What is kept of a part: its load in every measure, and its time by intensity."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from accuracy.core.estimates import measures
from accuracy.core.estimates.correct import Recorded
from accuracy.core.estimates.measures import PartTime
from accuracy.core.estimates.rate_shares import RecordedShares
from accuracy.services import wording
from accuracy.services.knowledge import SESSION_RPE, Knowledge, plain_cell
from accuracy.services.method import METHOD_VERSION
from accuracy.services.sessions import content_of
from trainlog.load.draws import DRAWS, interval, pack, relative_half_width
from trainlog.load.physiology import PhysiologyDraws
from trainlog.load.session_rpe import session_rpe_load
from trainlog.load.week import PartLoad
from trainlog.models import Basis, Confidence, IntensityEstimate, LoadEstimate, Measure, Part
from trainlog.models.intensity_estimate import minutes_bytes

WRIST_ALONE = frozenset({Basis.ACCEPTED, Basis.UNCORRECTED, Basis.CORRECTED, Basis.COMBINED})
"""Bases of a load that rests on a tested sensor."""


@dataclass(frozen=True)
class Candidate:
    """One way to estimate a part.

    Attributes
    ----------
    load : PartLoad
        Training impulse.
    basis : Basis
    reason : str
    time : PartTime
        How its time was spent, draw by draw of the same load.
    recorded : Recorded or None
        Of the recording it rests on.
    """

    load: PartLoad
    basis: Basis
    reason: str
    time: PartTime
    recorded: Recorded | None = None

    @property
    def half_width(self) -> float:
        """Relative half-width by the sensor's doubt."""
        return relative_half_width(self.load.sensor_doubt)


@dataclass(frozen=True)
class PartEstimates:
    """A part's load in every measure, and its time by intensity; not yet saved."""

    loads: list[LoadEstimate]
    intensity: IntensityEstimate


def estimates_of(
    part: Part, chosen: Candidate, knowledge: Knowledge, physiology: PhysiologyDraws, source: str
) -> PartEstimates:
    """All that is kept of a part, from what its training impulse rests on.

    Parameters
    ----------
    part : Part
        With its workout and activity.
    chosen : Candidate
    knowledge : Knowledge
        What the fit learned.
    physiology : PhysiologyDraws
        In force on the day.
    source : str
        Name of the fit.
    """
    return PartEstimates(
        list(_loads(part, chosen, knowledge, physiology, source)),
        IntensityEstimate(
            owner_id=part.owner_id,
            part=part,
            source=source,
            bands=minutes_bytes(measures.minutes_in_bands(chosen.time, physiology)),
            bands_of_maximum=minutes_bytes(measures.minutes_in_bands_of_maximum(chosen.time, physiology)),
            domains=minutes_bytes(measures.minutes_in_domains(chosen.time, physiology)),
        ),
    )


def _loads(
    part: Part, chosen: Candidate, knowledge: Knowledge, physiology: PhysiologyDraws, source: str
) -> Iterator[LoadEstimate]:
    recorded = chosen.recorded
    impulse = physiology.central_load(recorded.seconds_at_rate) if recorded else None
    yield _row(part, source, Measure.TRIMP, chosen.load, chosen.basis, chosen.reason, impulse)
    for measure, load_of in (
        (Measure.ZONES, measures.summated_zones),
        (Measure.THREE_ZONES, measures.three_zones),
    ):
        as_recorded = load_of(_time_recorded(recorded), physiology).sensor_doubt[0] if recorded else None
        reason = chosen.reason + wording.by_zones(
            moved=chosen.basis in WRIST_ALONE,
            unrecorded=recorded is None,
            stand_ins=measure == Measure.THREE_ZONES and not physiology.thresholds_known,
        )
        load = load_of(chosen.time, physiology)
        yield _row(part, source, measure, load, chosen.basis, reason, as_recorded)
    yield _session_rpe(part, chosen, knowledge, source)


def _time_recorded(recorded: Recorded) -> PartTime:
    """Time as the recording has it, without correction."""
    minutes = recorded.valid_seconds / 60
    return PartTime(RecordedShares(recorded.seconds_at_rate), np.full(DRAWS, minutes), minutes)


def _session_rpe(part: Part, chosen: Candidate, knowledge: Knowledge, source: str) -> LoadEstimate:
    minutes = part.seconds / 60
    if part.session_rpe is not None:
        value = session_rpe_load(part.session_rpe, minutes)
        reason = f"Your rating of {part.session_rpe:g} times {minutes:.0f} min, taken as it is."
        load = measures.rated_load(value)
        return _row(part, source, Measure.SESSION_RPE, load, Basis.REPORTED, reason, value)
    cell = plain_cell(part, SESSION_RPE)
    log_ratio = knowledge.session_rpe.further_session(cell, content_of(part))
    load = measures.session_rpe_from_load(chosen.load.sensor_doubt, log_ratio, minutes)
    learned = sum(knowledge.session_rpe.counts.values())
    reason = (
        f"Not rated; drawn from its training impulse and {wording.counted(learned, 'session')} where both "
        "rating and strap were there."
        if learned
        else "Not rated; drawn from its training impulse, with no session yet where both rating and strap "
        "were there, so the margin is wide."
    )
    return _row(part, source, Measure.SESSION_RPE, load, Basis.MISSING, reason, None)


def _row(
    part: Part,
    source: str,
    measure: Measure,
    load: PartLoad,
    basis: Basis,
    reason: str,
    raw: float | None,
) -> LoadEstimate:
    low, median, high = interval(load.all_doubt)
    # A load that is the same in every draw, such as one rated 0, is known; one of nothing too.
    certain = np.ptp(load.sensor_doubt) == 0
    half_width = 0.0 if certain else relative_half_width(load.sensor_doubt)
    return LoadEstimate(
        owner_id=part.owner_id,
        part=part,
        measure=measure,
        source=source,
        method_version=METHOD_VERSION,
        input_revision=part.input_revision,
        basis=basis,
        confidence=Confidence.of(half_width),
        reason=reason,
        raw=raw,
        low=low,
        median=median,
        high=high,
        sensor_half_width=min(half_width, 99.0),
        all_draws=pack(load.all_doubt),
        sensor_draws=pack(load.sensor_doubt),
        physiology_draws=pack(load.physiology_doubt),
    )
