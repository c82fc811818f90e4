"""The load of one part: on what it rests, its draws, and one sentence why."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from accuracy.core.estimates import correct
from accuracy.core.estimates.advise import chance_near, serves_as_it_stands
from accuracy.core.estimates.correct import LEAST_RECORDED, MEASURED_SHARE, Recorded
from accuracy.models import PartEvidence, Stretch
from accuracy.services import wording
from accuracy.services.knowledge import SESSION_RPE, TIME_ALONE, Knowledge, plain_cell
from accuracy.services.method import METHOD_VERSION
from accuracy.services.sessions import content_of, wrist_session
from trainlog.load.draws import interval, pack, relative_half_width
from trainlog.load.physiology import PhysiologyDraws
from trainlog.load.session_rpe import session_rpe_load
from trainlog.load.week import PartLoad
from trainlog.models import Basis, Confidence, LoadEstimate, Part


@dataclass(frozen=True)
class Candidate:
    """One way to estimate a part."""

    load: PartLoad
    basis: Basis
    reason: str
    raw: float | None = None

    @property
    def half_width(self) -> float:
        """Relative half-width by the sensor's doubt."""
        return relative_half_width(self.load.sensor_doubt)


def estimate(
    part: Part,
    stretches: Sequence[Stretch],
    knowledge: Knowledge,
    physiology: PhysiologyDraws,
    source: str,
    evidence: PartEvidence | None = None,
) -> LoadEstimate:
    """Estimate a part, not yet saved.

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
    low, median, high = interval(chosen.load.all_doubt)
    return LoadEstimate(
        owner_id=part.owner_id,
        part=part,
        source=source,
        method_version=METHOD_VERSION,
        input_revision=part.input_revision,
        basis=chosen.basis,
        confidence=Confidence.of(chosen.half_width),
        reason=chosen.reason,
        raw=chosen.raw,
        low=low,
        median=median,
        high=high,
        sensor_half_width=min(chosen.half_width, 99.0),
        all_draws=pack(chosen.load.all_doubt),
        sensor_draws=pack(chosen.load.sensor_doubt),
        physiology_draws=pack(chosen.load.physiology_doubt),
    )


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
    candidates = [_from_wrist(part, stretch, knowledge, physiology) for stretch in tested]
    candidates += [_from_broken_reference(part, stretch, physiology) for stretch in references[:1]]
    if candidates:
        best = min(candidates, key=lambda candidate: candidate.half_width)
        if len(candidates) > 1:
            return Candidate(
                best.load,
                best.basis,
                best.reason + f" Of {len(candidates)} recordings, this one leaves the narrower interval.",
                best.raw,
            )
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
    load = correct.recorded_load(recorded, correct.reference_factor(recorded), physiology)
    reason = f"{stretch.recording.sensor} covers {recorded.share:.0%} of this part."
    return Candidate(
        load,
        Basis.MEASURED,
        reason + wording.unrecorded(recorded.seconds, recorded.missing_seconds),
        physiology.central_load(recorded.seconds_at_rate),
    )


def _from_broken_reference(part: Part, stretch: Stretch, physiology: PhysiologyDraws) -> Candidate:
    """A reference that misses too much to count as measured: its load is corrected for what it missed."""
    measured = _measured(part, stretch, physiology)
    return Candidate(measured.load, Basis.CORRECTED, measured.reason, measured.raw)


def _from_wrist(part: Part, stretch: Stretch, knowledge: Knowledge, physiology: PhysiologyDraws) -> Candidate:
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
    load = correct.recorded_load(recorded, np.exp(log_ratio) * correct.gap_factor(recorded), physiology)
    return Candidate(
        load,
        basis,
        reason
        + wording.unlike(fit.outside(session))
        + wording.changed(fit.drift_of(session))
        + wording.unrecorded(recorded.seconds, recorded.missing_seconds)
        + wording.share_of_gaps(correct.gap_share(recorded, log_ratio)),
        physiology.central_load(recorded.seconds_at_rate),
    )


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
    return Candidate(
        load, Basis.REPORTED, f"From your rating of {rating:g} over {minutes:.0f} min, {rests_on}."
    )


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
    return Candidate(load, Basis.MISSING, f"{why}; {drawn}. A rating would narrow it.")
