"""Agreement over all usable pairs of a sensor on an activity, made in the background for pages to show."""

from __future__ import annotations

import hashlib
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, TypedDict

import numpy as np
from django.db.models import QuerySet

from accuracy.core.agreement import conditions, pooled_conditions
from accuracy.core.agreement.agreement_charts import difference_plot, identity_density
from accuracy.core.agreement.conditions import ConditionError
from accuracy.core.agreement.differences import EPOCHS, paired_epochs
from accuracy.core.agreement.pooled import UNITS, PooledAgreement, pool
from accuracy.core.agreement.study_summary import Protocol, study_summary
from accuracy.models import ErrorProfile, Pair
from accuracy.services.method import METHOD_VERSION
from accuracy.services.pair_report import pairs_of
from trainlog.load.trimp import Weighting
from trainlog.models import Activity, Athlete, Sensor
from trainlog.models.athlete import DatedPhysiology
from trainlog.trace import FloatArray

SHOWN_EPOCH = 5
"""Seconds of an epoch unless another length is asked for: seconds of one heart are nearly one value."""

MOST_POINTS = 600
"""Epochs kept for the difference plot, for each length of an epoch."""

Traces = tuple[FloatArray, FloatArray]


class Given(TypedDict):
    """Physiology that errors by intensity need, in bpm."""

    resting: float
    maximum: float
    weighting: Weighting


@dataclass(frozen=True, eq=False)
class Session:
    """All parts of one workout that a sensor and a reference recorded on one activity."""

    day: str
    traces: Traces
    by_intensity: Sequence[ConditionError]
    by_direction: Sequence[ConditionError]


Key = tuple[int, int]
"""Of a tested sensor and of an activity."""


def pooled_agreements(athlete: Athlete) -> dict[Key, dict[str, Any]]:
    """Pooled agreement of each tested sensor on each activity, ready for a JSON column.

    What was pooled for the profiles that are shown is taken over where it is of the same pairs: pooling
    fetches every trace, and one more pair leaves most cells as they were.
    """
    usable = pairs_of(athlete).filter(usable=True, tested__sensor__isnull=False)
    cells: dict[Key, list[Any]] = defaultdict(list)
    for row in usable.order_by("pk").values_list(
        "tested__sensor",
        "part__activity",
        "pk",
        "part__workout__day",
        "reference__sensor__name",
        "reference__sensor__site",
        "tested__sensor__site",
        "part__activity__name",
    ):
        cells[row[:2]].append(row[2:])
    physiology = athlete.physiology()
    dated = [
        (row.from_day, row.resting_rate, row.maximum_rate, row.load_weighting) for row in physiology.rows
    ]
    origins = {
        key: hashlib.sha256(repr((METHOD_VERSION, dated, rows)).encode()).hexdigest()
        for key, rows in cells.items()
    }
    kept = {
        (sensor, activity): agreement
        for sensor, activity, agreement in ErrorProfile.objects.of(athlete)
        .filter(agreement__origin__in=list(origins.values()))
        .values_list("sensor", "activity", "agreement")
    }
    found: dict[Key, dict[str, Any]] = {}
    for key, origin in origins.items():
        known = kept.get(key, {})
        found[key] = known if known.get("origin") == origin else _of_cell(usable, key, physiology, origin)
    return found


def _of_cell(usable: QuerySet[Pair], key: Key, physiology: DatedPhysiology, origin: str) -> dict[str, Any]:
    sensor, activity = key
    pairs = [
        pair
        for pair in usable.filter(tested__sensor=sensor, part__activity=activity).order_by(
            "part__start", "-common_seconds", "pk"
        )
        if pair.reference_trace and pair.tested_trace
    ]
    if not pairs or pairs[0].tested.sensor is None:
        return {}
    pooled = _pooled(pairs[0].tested.sensor, pairs[0].part.activity, pairs, physiology)
    return pooled | {"origin": origin} if pooled else {}


def _pooled(
    sensor: Sensor, activity: Activity, pairs: Sequence[Pair], physiology: DatedPhysiology
) -> dict[str, Any]:
    sessions = _sessions(pairs, physiology)
    traces = [session.traces for session in sessions]
    by_epoch: dict[int, PooledAgreement] = {}
    for seconds in EPOCHS:
        try:
            by_epoch[seconds] = pool(traces, epoch_seconds=seconds)
        except ValueError:  # sessions of seconds: nothing to compare at this length
            continue
    if not by_epoch:
        return {}
    shown = by_epoch.get(SHOWN_EPOCH) or next(iter(by_epoch.values()))
    references = {pair.reference.sensor for pair in pairs if pair.reference.sensor}
    protocol = Protocol(
        reference=", ".join(sorted(f"{one.name} (electrical)" for one in references)) or None,
        reference_placement=", ".join(sorted({one.get_site_display() for one in references})) or None,
        tested_placement=sensor.get_site_display(),
    )
    known = [session for session in sessions if session.by_intensity]
    return {
        "epochs": {str(seconds): pooled.as_dict() for seconds, pooled in by_epoch.items()},
        "units": dict(UNITS),
        "points": {str(seconds): _points(traces, seconds) for seconds in by_epoch},
        "session_means": {str(seconds): _means(sessions, seconds) for seconds in by_epoch},
        "density": identity_density(traces).as_dict(),
        "by_intensity": _conditions([session.by_intensity for session in known]),
        "by_direction": _conditions([session.by_direction for session in known]),
        "study": [line.as_dict() for line in study_summary({activity.name: shown}, protocol)],
    }


def _sessions(pairs: Sequence[Pair], physiology: DatedPhysiology) -> list[Session]:
    """Workouts are the sessions: parts of one are put after each other, each part counts once."""
    workouts: dict[int, dict[int, Pair]] = defaultdict(dict)
    for pair in pairs:
        workouts[pair.part.workout_id].setdefault(pair.part_id, pair)
    return [_session(list(parts.values()), physiology) for parts in workouts.values()]


def _session(parts: Sequence[Pair], physiology: DatedPhysiology) -> Session:
    traces = after_each_other([pair.traces for pair in parts])
    day = parts[0].part.workout.day
    row = physiology.on(day)
    if row is None:
        return Session(day.isoformat(), traces, [], [])
    given = Given(resting=row.resting_rate, maximum=row.maximum_rate, weighting=row.load_weighting)
    return Session(
        day.isoformat(),
        traces,
        conditions.error_by_intensity(*traces, **given),
        conditions.error_by_direction(*traces, **given),
    )


def after_each_other(parts: Sequence[Traces]) -> Traces:
    """Traces of a session's parts, each but the last filled up to whole minutes: no epoch spans two parts."""
    if len(parts) == 1:
        return parts[0]
    both = []
    for side in (0, 1):
        filled = [np.pad(one[side], (0, -len(one[side]) % 60), constant_values=np.nan) for one in parts[:-1]]
        both.append(np.concatenate([*filled, parts[-1][side]]))
    return both[0], both[1]


def _points(traces: Sequence[Traces], seconds: int) -> dict[str, Any]:
    points = difference_plot(traces, epoch_seconds=seconds, most=MOST_POINTS).as_dict()
    rounded = {name: [round(value, 1) for value in points[name]] for name in ("mean_bpm", "difference_bpm")}
    return {**rounded, "of_epochs": points["of_epochs"]}


def _means(sessions: Sequence[Session], seconds: int) -> list[dict[str, Any]]:
    found = []
    for session in sessions:
        x, y = paired_epochs(*session.traces, seconds)
        known = np.isfinite(x)
        if known.any():
            reference, tested = float(x[known].mean()), float(y[known].mean())
            found.append(
                {
                    "day": session.day,
                    "mean_bpm": round((reference + tested) / 2, 2),
                    "difference_bpm": round(tested - reference, 2),
                    "epochs": int(known.sum()),
                }
            )
    return found


def _conditions(sessions: Sequence[Sequence[ConditionError]]) -> list[dict[str, Any]]:
    return [row.as_dict() for row in pooled_conditions.pool_conditions(sessions)] if sessions else []
