"""Error profiles of a fit: what it says of each tested sensor on each activity it was worn for."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

import numpy as np
from django.db.models import Max

from accuracy.core.advise import Verdict, chance_near, verdict
from accuracy.core.profile import Cell, Posterior
from accuracy.models import ErrorProfile, Fit, Stretch
from accuracy.services import wording
from accuracy.services.pooled_agreement import pooled_agreements
from trainlog.models import Activity, Athlete, Sensor
from trainlog.trace import FloatArray

VERDICTS = {
    Verdict.WRIST_WILL_DO: "The wrist will do",
    Verdict.STRAP_ADVISED: "A strap is advised",
    Verdict.STRAP_NEEDED: "A strap is needed",
    Verdict.TOO_FEW_PAIRS: "Too few pairs to say",
}


def current_fit(athlete: Athlete) -> Fit | None:
    """Fit whose estimates the pages show."""
    version, _, inputs = athlete.current_source.partition("/")
    if not version.isdecimal() or not inputs:
        return None
    return Fit.objects.of(athlete).filter(method_version=int(version), inputs_hash__startswith=inputs).first()


def profiles_of(fit: Fit, wrist: Posterior) -> list[ErrorProfile]:
    """Profiles of every sensor and activity that the log has recordings of, not yet saved."""
    worn = (
        Stretch.objects.of(fit.owner)
        .values("recording__sensor", "part__activity")
        .annotate(last=Max("part__workout__day"))
        .order_by("recording__sensor", "part__activity")
    )
    sensors = {row.pk: row for row in Sensor.objects.of(fit.owner).prefetch_related("firmware")}
    activities = {row.pk: row for row in Activity.objects.of(fit.owner)}
    found = [
        (sensors[row["recording__sensor"]], activities[row["part__activity"]], row["last"]) for row in worn
    ]
    agreements = pooled_agreements(fit.owner)
    return [
        _profile(fit, wrist, sensor, activity, last, agreements.get((sensor.pk, activity.pk), {}))
        for sensor, activity, last in found
        if not sensor.is_reference
    ]


def _profile(
    fit: Fit,
    wrist: Posterior,
    sensor: Sensor,
    activity: Activity,
    last: date,
    agreement: Mapping[str, Any],
) -> ErrorProfile:
    cell = Cell(str(sensor.key), sensor.firmware_on(last), activity.family, activity.slug)
    log_ratio = wrist.further_session(cell, f"profile/{cell}")
    pairs = wrist.pairs_of(cell)
    advice = verdict(log_ratio, pairs)
    low, median, high = np.exp(np.quantile(log_ratio, [0.1, 0.5, 0.9]))
    return ErrorProfile(
        owner=fit.owner,
        fit=fit,
        sensor=sensor,
        activity=activity,
        firmware=cell.firmware,
        pair_count=pairs,
        ratio=median,
        ratio_low=low,
        ratio_high=high,
        within_ten=chance_near(log_ratio - np.median(log_ratio)),
        raw_within_ten=chance_near(log_ratio),
        agreement=agreement,
        advice=advice.value,
        reason=_reason(advice, log_ratio, pairs),
    )


def _reason(advice: Verdict, log_ratio: FloatArray, pairs: int) -> str:
    chance = chance_near(log_ratio - np.median(log_ratio))
    evidence = wording.counted(pairs, "pair") if pairs else "no pair"
    return (
        f"{VERDICTS[advice]}: by {evidence} its load reads {wording.off_by(float(np.median(log_ratio)))}, "
        f"one session {wording.off_between(log_ratio)}; after correction the chance to lie within 10% of the "
        f"strap's is {wording.about(chance)}."
    )
