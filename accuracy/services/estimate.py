"""The load of one part: on what it rests, its draws, and one sentence why."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from accuracy.core.estimates import correct
from accuracy.core.estimates.advise import chance_near, serves_as_it_stands
from accuracy.core.estimates.correct import LEAST_RECORDED, MEASURED_SHARE, Recorded
from accuracy.core.estimates.likely_trace import likely_shares
from accuracy.core.estimates.measures import PartTime, unrecorded_time
from accuracy.core.estimates.rate_shares import RateShares, RecordedShares
from accuracy.models import PartEvidence, Stretch
from accuracy.services import wording
from accuracy.services.knowledge import SESSION_RPE, TIME_ALONE, Knowledge, plain_cell
from accuracy.services.measures import Candidate, PartEstimates, estimates_of
from accuracy.services.sessions import content_of, wrist_session
from trainlog.load.physiology import PhysiologyDraws
from trainlog.load.session_rpe import session_rpe_load
from trainlog.load.week import PartLoad
from trainlog.models import Basis, Part
from trainlog.trace import FloatArray


def estimate(
    part: Part,
    stretches: Sequence[Stretch],
    knowledge: Knowledge,
    physiology: PhysiologyDraws,
    source: str,
    evidence: PartEvidence | None = None,
) -> PartEstimates:
    """Estimate a part in every measure, not yet saved.

    Parameters
    ----------
    part : Part
        With its workout and activity.
    stretches : sequence of Stretch
        What its recordings hold of it, with recording, sensor and firmware.
    knowledge : Knowledge
        What the fit learned.
    physiology : PhysiologyDraws
        In force on the day.
    source : str
        Name of the fit.
    evidence : PartEvidence, optional
        Whether digesting the part failed.
    """
    chosen = _choose(part, stretches, knowledge, physiology, evidence)
    return estimates_of(part, chosen, knowledge, physiology, source)


def _choose(
    part: Part,
    stretches: Sequence[Stretch],
    knowledge: Knowledge,
    physiology: PhysiologyDraws,
    evidence: PartEvidence | None,
) -> Candidate:
    usable = [stretch for stretch in stretches if stretch.valid_seconds >= LEAST_RECORDED * stretch.seconds]
    references = [stretch for stretch in usable if _is_reference(stretch)]
    references.sort(key=lambda stretch: (-stretch.valid_seconds, stretch.recording.sha256))
    if references and references[0].valid_seconds >= MEASURED_SHARE * references[0].seconds:
        return _measured(part, references[0], physiology)
    tested = [stretch for stretch in usable if not _is_reference(stretch)]
    candidates = [from_wrist(part, stretch, knowledge, physiology) for stretch in tested]
    candidates += [_from_broken_reference(part, stretch, physiology) for stretch in references[:1]]
    if candidates:
        best = min(candidates, key=lambda candidate: candidate.half_width)
        if len(candidates) > 1:
            reason = best.reason + f" Of {len(candidates)} recordings, this one leaves the narrower interval."
            return replace(best, reason=reason)
        return best
    if part.session_rpe is not None:
        return _reported(part, knowledge, physiology)
    return _missing(part, stretches, knowledge, physiology, evidence)


def _is_reference(stretch: Stretch) -> bool:
    sensor = stretch.recording.sensor
    return sensor is not None and sensor.is_reference


def _recorded(part: Part, stretch: Stretch) -> Recorded:
    return Recorded(
        stretch.seconds_at_rate, stretch.seconds, stretch.valid_seconds, content_of(part, stretch.recording)
    )


def _measured(part: Part, stretch: Stretch, physiology: PhysiologyDraws) -> Candidate:
    recorded = _recorded(part, stretch)
    factor = correct.reference_factor(recorded)
    reason = f"{stretch.recording.sensor} covers {recorded.share:.0%} of this part."
    return Candidate(
        correct.recorded_load(recorded, factor, physiology),
        Basis.MEASURED,
        reason + wording.unrecorded(recorded.seconds, recorded.missing_seconds),
        _time(recorded, RecordedShares(recorded.seconds_at_rate), factor),
        recorded,
    )


def _time(recorded: Recorded, shares: RateShares, factor: FloatArray) -> PartTime:
    return PartTime(shares, recorded.valid_seconds / 60 * factor, recorded.seconds / 60)


def _from_broken_reference(part: Part, stretch: Stretch, physiology: PhysiologyDraws) -> Candidate:
    """A reference that misses too much to count as measured: its load is corrected for what it missed."""
    return replace(_measured(part, stretch, physiology), basis=Basis.CORRECTED)


def from_wrist(part: Part, stretch: Stretch, knowledge: Knowledge, physiology: PhysiologyDraws) -> Candidate:
    """What a tested sensor alone says of a part's load, whatever else was worn.

    Parameters
    ----------
    part : Part
        With its workout and activity.
    stretch : Stretch
        Of a tested sensor in the part, with recording, sensor and firmware.
    knowledge : Knowledge
        What the fit learned.
    physiology : PhysiologyDraws
        In force on the day.
    """
    recorded, session = _recorded(part, stretch), wrist_session(stretch, physiology)
    sensor, fit, near = stretch.recording.sensor, knowledge.wrist, knowledge.near
    log_ratio = fit.further_session(session)
    here = fit.pooled.pairs_of(session.cell)
    alike = fit.pooled.pairs_of(session.cell, level="family")
    if serves_as_it_stands(log_ratio, here, near):
        basis, log_ratio = Basis.ACCEPTED, correct.as_it_stands(log_ratio)
        reason = (
            f"{sensor} may be believed here: {wording.counted(here, 'pair')} in {part.activity}, and this "
            f"load as it stands lies within {near:.0%} of the strap's with a chance of "
            f"{wording.about(chance_near(log_ratio, near))}."
        )
    elif alike:
        rated = fit.leans_on_rating(session)
        basis = Basis.COMBINED if rated else Basis.CORRECTED
        known = (
            wording.counted(here, "pair")
            if here
            else f"no pair yet, {wording.counted(alike, 'pair')} in {part.activity.get_family_display()}"
        )
        rests_on = f"trace and your rating of {part.session_rpe:g}" if rated else "trace"
        reason = (
            f"By its {rests_on}, {sensor} reads {wording.off_by(float(np.median(log_ratio)))} here, "
            f"most likely {wording.off_between(log_ratio)} ({part.activity}: {known})."
        )
    else:
        basis, log_ratio = Basis.UNCORRECTED, correct.as_it_stands(log_ratio)
        reason = (
            f"No pair of {sensor} and a strap in {part.activity.get_family_display()} yet, "
            "so its load stands as it is, with a wide margin."
        )
    gaps = correct.gap_factor(recorded)
    return Candidate(
        correct.recorded_load(recorded, np.exp(log_ratio) * gaps, physiology),
        basis,
        reason
        + wording.unlike(fit.outside(session))
        + wording.changed(fit.drift_of(session))
        + wording.unrecorded(recorded.seconds, recorded.missing_seconds)
        + wording.share_of_gaps(correct.gap_share(recorded, log_ratio)),
        _time(recorded, likely_shares(session, log_ratio, fit, knowledge.leftovers), gaps),
        recorded,
    )


def _without_recording(
    part: Part, load: PartLoad, basis: Basis, reason: str, knowledge: Knowledge, physiology: PhysiologyDraws
) -> Candidate:
    typical, minutes = knowledge.typical_seconds_at_rate, part.seconds / 60
    return Candidate(load, basis, reason, unrecorded_time(load.sensor_doubt, typical, minutes, physiology))


def _reported(part: Part, knowledge: Knowledge, physiology: PhysiologyDraws) -> Candidate:
    cell = plain_cell(part, SESSION_RPE)
    factor = np.exp(knowledge.session_rpe.further_session(cell, content_of(part)))
    minutes, rating = part.seconds / 60, part.session_rpe or 0.0
    load = correct.unrecorded_load(
        session_rpe_load(rating, minutes), factor, knowledge.typical_seconds_at_rate, physiology
    )
    learned = sum(knowledge.session_rpe.counts.values())
    rests_on = (
        f"set against {wording.counted(learned, 'session')} where both rating and strap were there"
        if learned
        else "with no session yet where both rating and strap were there, so the margin is wide"
    )
    reason = f"From your rating of {rating:g} over {minutes:.0f} min, {rests_on}."
    return _without_recording(part, load, Basis.REPORTED, reason, knowledge, physiology)


def _missing(
    part: Part,
    stretches: Sequence[Stretch],
    knowledge: Knowledge,
    physiology: PhysiologyDraws,
    evidence: PartEvidence | None,
) -> Candidate:
    cell = plain_cell(part, TIME_ALONE)
    factor = np.exp(knowledge.time_alone.further_session(cell, content_of(part)))
    load = correct.unrecorded_load(part.seconds / 60, factor, knowledge.typical_seconds_at_rate, physiology)
    if evidence and evidence.failure:
        why = f"Its recordings could not be worked through ({evidence.failure})"
    elif stretches:
        best = max(stretch.valid_seconds / stretch.seconds for stretch in stretches)
        why = f"No recording covers more than {best:.0%} of it"
    else:
        why = "No recording of a known sensor covers it"
    here = knowledge.time_alone.pairs_of(cell)
    drawn = (
        f"drawn from your {wording.counted(here, 'measured session')} of {part.activity}"
        if here
        else "drawn from its length alone"
    )
    reason = f"{why}; {drawn}. A rating would narrow it."
    return _without_recording(part, load, Basis.MISSING, reason, knowledge, physiology)
