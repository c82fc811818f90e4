"""Fetch the pairs that a report rests on, and make evidence of them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from string import ascii_lowercase

from accuracy.core.agreement.conditions import ConditionError, error_by_direction, error_by_intensity
from accuracy.core.agreement.recovery_difference import RecoveryDifference
from accuracy.core.evaluation.folds import HeldOut, predict_held_out
from accuracy.core.traces.pairing import LEAST_COMMON_SHARE
from accuracy.models import Pair
from accuracy.report.evidence import PartPair, SensorEvidence, Session, SetAside
from accuracy.report.naming import Naming, letter_of, naming_of
from accuracy.services.knowledge import learned_pairs, physiology_by_day
from accuracy.services.pair_report import Flagged, flagged_of_pairs, pairs_of, recovery_of_pairs
from accuracy.services.pooled_agreement import Given, Traces
from trainlog.load.trimp import RATES, histogram_load, load_per_minute
from trainlog.models import Athlete, Physiology, Sensor
from trainlog.models.athlete import DatedPhysiology

OTHER_REFERENCE = "another reference of the same part has more seconds in common"
NO_TRACE = "no second is common to both"


@dataclass(frozen=True, eq=False)
class Collected:
    """Evidence on the sensors of a report, in its order, and what all of them share.

    Attributes
    ----------
    physiology : sequence of Physiology
        In force on any of the days, oldest first.
    days : tuple of date or None
        Of the first and the last session; None without one.
    """

    sensors: Sequence[SensorEvidence]
    naming: Naming
    physiology: Sequence[Physiology]
    days: tuple[date, date] | None


def collect(
    athlete: Athlete,
    sensors: Sequence[Sensor],
    *,
    anonymised: bool,
    first_day: date | None = None,
    last_day: date | None = None,
) -> Collected:
    """Collect the evidence on some of an athlete's tested sensors.

    Parameters
    ----------
    athlete : Athlete
    sensors : sequence of Sensor
        The athlete's own, in the order of the report.
    anonymised : bool
        Whether names and days stay out.
    first_day, last_day : date, optional
        Workouts before and after are left out.
    """
    pairs = _pairs(athlete, sensors, first_day, last_day)
    naming = naming_of(
        sensors,
        [pair.reference.sensor for pair in pairs if pair.reference.sensor],
        [pair.part.activity for pair in pairs],
        anonymised=anonymised,
    )
    numbers = _numbers(pairs)
    held_out = _held_out(athlete)
    dated = athlete.physiology()
    found = []
    for place, sensor in enumerate(sensors):
        own = [pair for pair in pairs if pair.tested.sensor_id == sensor.pk]
        chosen, second = _chosen(own)
        stem = f"{letter_of(place).lower()}_" if len(sensors) > 1 else ""
        found.append(
            SensorEvidence(
                sensor,
                naming.sensors[sensor.pk],
                stem,
                _sessions(_parts(chosen, naming, numbers, held_out, dated)),
                _set_aside([pair for pair in own if pair not in chosen], second, naming, numbers),
                len(held_out),
            )
        )
    days = [pair.part.workout.day for pair in pairs]
    in_force = {row.pk: row for day in days if (row := dated.on(day))}
    return Collected(
        found,
        naming,
        sorted(in_force.values(), key=lambda row: row.from_day),
        (min(days), max(days)) if days else None,
    )


def _pairs(
    athlete: Athlete, sensors: Sequence[Sensor], first_day: date | None, last_day: date | None
) -> list[Pair]:
    found = pairs_of(athlete).filter(tested__sensor__in=[sensor.pk for sensor in sensors])
    if first_day:
        found = found.filter(part__workout__day__gte=first_day)
    if last_day:
        found = found.filter(part__workout__day__lte=last_day)
    return list(found.order_by("part__start", "-common_seconds", "reference__sha256", "tested__sha256"))


def _numbers(pairs: Iterable[Pair]) -> dict[int, str]:
    """Label of each part: sessions are numbered in order of time, parts of one get letters."""
    workouts: dict[int, list[int]] = {}
    for pair in pairs:
        parts = workouts.setdefault(pair.part.workout_id, [])
        if pair.part_id not in parts:
            parts.append(pair.part_id)
    labels = {}
    for number, parts in enumerate(workouts.values(), 1):
        for place, part in enumerate(parts):
            letter = ascii_lowercase[place % len(ascii_lowercase)] if len(parts) > 1 else ""
            labels[part] = f"{number}{letter}"
    return labels


def _chosen(pairs: Sequence[Pair]) -> tuple[list[Pair], set[int]]:
    """The pair of each part that figures rest on; and usable ones of the same part, which count no second."""
    best: dict[int, Pair] = {}
    second = set()
    for pair in pairs:
        if not pair.usable or not pair.reference_trace or not pair.tested_trace or pair.common_seconds < 2:
            continue
        if pair.part_id in best:
            second.add(pair.pk)
        else:
            best[pair.part_id] = pair
    return list(best.values()), second


def _held_out(athlete: Athlete) -> Mapping[int, HeldOut]:
    """What the correction makes of every pair of the log that can teach, by the pair's primary key."""
    found = list(learned_pairs(athlete, physiology_by_day(athlete)))
    predicted = predict_held_out([learned for _, learned in found], seed=athlete.seed)
    by_session = {id(one.pair): one for one in predicted}
    return {pair.pk: by_session[id(learned)] for pair, learned in found if id(learned) in by_session}


def _parts(
    pairs: Sequence[Pair],
    naming: Naming,
    numbers: Mapping[int, str],
    held_out: Mapping[int, HeldOut],
    dated: DatedPhysiology,
) -> list[PartPair]:
    flagged, recovery = flagged_of_pairs(pairs), recovery_of_pairs(pairs)
    return [
        _part(pair, naming, numbers[pair.part_id], held_out.get(pair.pk), dated, flagged[pair.pk], hours)
        for pair, hours in zip(pairs, recovery, strict=True)
    ]


def _part(
    pair: Pair,
    naming: Naming,
    label: str,
    held_out: HeldOut | None,
    dated: DatedPhysiology,
    flagged: Sequence[Flagged],
    recovery: RecoveryDifference | None,
) -> PartPair:
    day, reference, tested = pair.part.workout.day, pair.reference.sensor, pair.tested.sensor
    physiology = dated.on(day)
    traces = pair.traces
    by_intensity, by_direction = _conditions(traces, physiology)
    return PartPair(
        pair=pair,
        label=label,
        day=naming.day(day),
        activity=naming.activities[pair.part.activity_id],
        family=pair.part.activity.get_family_display(),
        reference=naming.references[reference.pk] if reference else "reference",
        firmware=naming.firmware(tested.firmware_on(day)) if tested else None,
        traces=traces,
        agreement=pair.agreement,
        loads=_loads(pair, physiology),
        recovery=recovery,
        flagged=flagged,
        by_intensity=by_intensity,
        by_direction=by_direction,
        held_out=held_out,
    )


def _conditions(
    traces: Traces, physiology: Physiology | None
) -> tuple[Sequence[ConditionError], Sequence[ConditionError]]:
    if physiology is None:
        return [], []
    given = Given(
        resting=physiology.resting_rate,
        maximum=physiology.maximum_rate,
        weighting=physiology.load_weighting,
    )
    return error_by_intensity(*traces, **given), error_by_direction(*traces, **given)


def _loads(pair: Pair, physiology: Physiology | None) -> tuple[float, float] | None:
    if physiology is None:
        return None
    per_minute = load_per_minute(
        RATES, physiology.resting_rate, physiology.maximum_rate, physiology.load_weighting
    )
    reference, tested = (float(histogram_load(seconds, per_minute)) for seconds in pair.histograms)
    return reference, tested


def _sessions(parts: Sequence[PartPair]) -> list[Session]:
    workouts: dict[int, list[PartPair]] = defaultdict(list)
    for part in parts:
        workouts[part.pair.part.workout_id].append(part)
    return [Session(int(own[0].label.rstrip(ascii_lowercase)), own) for own in workouts.values()]


def _set_aside(
    pairs: Sequence[Pair], second: set[int], naming: Naming, numbers: Mapping[int, str]
) -> list[SetAside]:
    return [
        SetAside(
            numbers[pair.part_id],
            naming.day(pair.part.workout.day),
            naming.activities[pair.part.activity_id],
            pair.common_seconds / 60,
            pair.common_seconds / max(pair.part.seconds, 1),
            _why(pair, second),
        )
        for pair in pairs
    ]


def _why(pair: Pair, second: set[int]) -> str:
    """Why no figure rests on a pair, from its numbers: what is written of it may hold names."""
    if pair.pk in second:
        return OTHER_REFERENCE
    share = pair.common_seconds / max(pair.part.seconds, 1)
    if pair.common_seconds < 2:
        return NO_TRACE
    if share < LEAST_COMMON_SHARE:
        return f"less than {LEAST_COMMON_SHARE:.0%} of the part is common to both"
    return "set aside when the pair was made"
