"""How each tested sensor's load error lay under the versions of its firmware, by activity."""

from __future__ import annotations

import math
from collections.abc import Iterable

from accuracy.core.agreement.firmware_history import FirmwareHistory, firmware_histories
from accuracy.models import Pair
from accuracy.services.sessions import LEAST_LOAD
from trainlog.load.trimp import RATES, histogram_load, load_per_minute
from trainlog.models import Athlete, Sensor

Cell = tuple[int, int]
"""Keys of a sensor and of an activity."""


def histories_of(athlete: Athlete, sensors: Iterable[Sensor]) -> dict[Cell, FirmwareHistory]:
    """Histories of cells with pairs under two versions or more; no trace is read.

    Parameters
    ----------
    athlete : Athlete
    sensors : iterable of Sensor
        With their firmware; those of one version are passed over.
    """
    changed = {sensor.pk: sensor for sensor in sensors if len(sensor.firmware.all()) > 1}
    if not changed:
        return {}
    physiology = athlete.physiology()
    pairs = (
        Pair.objects.of(athlete)
        .filter(usable=True, tested__sensor__in=changed)
        .select_related("part__workout", "tested")
        .only(
            "reference_histogram",
            "tested_histogram",
            "part__activity",
            "part__workout__day",
            "tested__sensor",
        )
        .order_by("part__start", "pk")
    )
    logs: dict[int, dict[int, dict[str, list[float]]]] = {}
    for pair in pairs:
        day, sensor = pair.part.workout.day, pair.tested.sensor_id
        known = physiology.on(day)
        if known is None or sensor is None:
            continue
        per_minute = load_per_minute(RATES, known.resting_rate, known.maximum_rate, known.load_weighting)
        reference, tested = (float(histogram_load(seconds, per_minute)) for seconds in pair.histograms)
        if min(reference, tested) >= LEAST_LOAD:
            versions = logs.setdefault(sensor, {}).setdefault(pair.part.activity_id, {})
            ratio = math.log(reference / tested)
            versions.setdefault(changed[sensor].firmware_on(day), []).append(ratio)
    return {
        (sensor, activity): history
        for sensor, by_activity in logs.items()
        for activity, history in firmware_histories(
            {activity: list(versions.items()) for activity, versions in by_activity.items()}
        ).items()
        if len(history.versions) > 1
    }
