"""Error profiles of a fit: what it says of each tested sensor on each activity it was worn for."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from accuracy.core.estimates.advise import Verdict, chance_near, verdict
from accuracy.core.learning.selection import differences
from accuracy.core.learning.wrist_fit import WristSession
from accuracy.models import ErrorProfile, Fit, Pair, Stretch
from accuracy.services import wording
from accuracy.services.knowledge import Knowledge, PhysiologyOn
from accuracy.services.pooled_agreement import pooled_agreements
from accuracy.services.sessions import wrist_session
from trainlog.models import Activity, Athlete, Sensor

VERDICTS = {
    Verdict.WRIST_WILL_DO: "The wrist will do",
    Verdict.STRAP_ADVISED: "A strap is advised",
    Verdict.STRAP_NEEDED: "A strap is needed",
    Verdict.TOO_FEW_PAIRS: "Too few pairs to say",
}

RECENT = 40
"""Newest sessions of a sensor on an activity that stand for the next one (common practice, no source)."""


def current_fit(athlete: Athlete) -> Fit | None:
    """Fit whose estimates the pages show."""
    version, _, inputs = athlete.current_source.partition("/")
    if not version.isdecimal() or not inputs:
        return None
    return Fit.objects.of(athlete).filter(method_version=int(version), inputs_hash__startswith=inputs).first()


@dataclass(frozen=True, eq=False)
class Worn:
    """Recent sessions of a sensor on an activity, newest first, and which of them are usable pairs."""

    sensor: Sensor
    activity: Activity
    sessions: list[WristSession]
    paired: list[bool]


def profiles_of(fit: Fit, knowledge: Knowledge, physiology_on: PhysiologyOn) -> list[ErrorProfile]:
    """Profiles of every sensor and activity that the log has recordings of, not yet saved."""
    agreements = pooled_agreements(fit.owner)
    return [
        _profile(fit, worn, knowledge, agreements.get((worn.sensor.pk, worn.activity.pk), {}))
        for worn in _worn(fit.owner, physiology_on)
    ]


def _worn(athlete: Athlete, physiology_on: PhysiologyOn) -> Iterator[Worn]:
    usable = set(Pair.objects.of(athlete).filter(usable=True).values_list("part_id", "tested_id"))
    stretches = (
        Stretch.objects.of(athlete)
        .exclude(states=b"")
        .order_by("-part__start", "recording__sha256")
        .values_list("pk", "recording__sensor", "part__activity")
    )
    newest: dict[tuple[int, int], list[int]] = {}
    for key, of_sensor, of_activity in stretches:
        kept = newest.setdefault((of_sensor, of_activity), [])
        if len(kept) < RECENT:
            kept.append(key)
    for keys in newest.values():
        found = (
            Stretch.objects.of(athlete)
            .filter(pk__in=keys)
            .select_related("part__workout", "part__activity", "recording__sensor")
            .prefetch_related("recording__sensor__firmware")
            .defer("recording__trace_blob")
            .order_by("-part__start", "recording__sha256")
        )
        known = [
            (stretch, sensor, physiology)
            for stretch in found
            if (sensor := stretch.recording.sensor)
            and (physiology := physiology_on(stretch.part.workout.day))
        ]
        if known:
            first, sensor, _ = known[0]
            yield Worn(
                sensor,
                first.part.activity,
                [wrist_session(stretch, physiology) for stretch, _, physiology in known],
                [(stretch.part_id, stretch.recording_id) in usable for stretch, _, _ in known],
            )


def _profile(fit: Fit, worn: Worn, knowledge: Knowledge, agreement: Mapping[str, Any]) -> ErrorProfile:
    wrist, near = knowledge.wrist, knowledge.near
    newest = worn.sessions[0]
    drawn = [wrist.further_session(session) for session in worn.sessions]
    together = np.concatenate(drawn)
    centred = np.concatenate([one - np.median(one) for one in drawn])
    pairs, chance = wrist.pooled.pairs_of(newest.cell), chance_near(centred, near)
    advice = verdict(chance, pairs)
    low, median, high = np.exp(np.quantile(together, [0.1, 0.5, 0.9]))
    evidence = f"by {wording.counted(pairs, 'pair')}" if pairs else "with no pair of its own"
    reason = (
        f"{VERDICTS[advice]}: {evidence}, its load reads {wording.off_by(float(np.log(median)))} in sessions "
        f"like your recent ones, one of them {wording.off_between(together)}; after correction the chance to "
        "lie within "
        f"{near:.0%} of the strap's is {wording.about(chance)}."
    )
    features = np.array([session.features for session in worn.sessions])
    paired = np.array(worn.paired)
    remarks = [
        wording.changed(wrist.drift_of(newest)).strip(),
        wording.chosen_days(differences(features[paired], features[~paired])),
    ]
    return ErrorProfile(
        owner=fit.owner,
        fit=fit,
        sensor=worn.sensor,
        activity=worn.activity,
        firmware=newest.cell.firmware,
        pair_count=pairs,
        ratio=median,
        ratio_low=low,
        ratio_high=high,
        within_ten=chance,
        raw_within_ten=chance_near(together, near),
        agreement=agreement,
        advice=advice.value,
        reason=reason,
        remarks=[remark for remark in remarks if remark],
    )
