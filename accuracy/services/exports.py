"""Agreement as rows for CSV and as nested figures for JSON, every number with its unit."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from django.utils.text import slugify

from accuracy.core.agreement.differences import EPOCHS, plain
from accuracy.core.agreement.pair_agreement import UNITS
from accuracy.core.agreement.pair_report import PairReport
from accuracy.core.agreement.recovery_difference import RecoveryDifference
from accuracy.models import ErrorProfile, Pair
from accuracy.services.pair_report import (
    clocks_agree,
    pairs_of,
    recovery_of_pairs,
    report_of,
    second_by_second,
)
from trainlog.load.trimp import RATES, histogram_load, load_per_minute
from trainlog.models import Activity, Athlete, Physiology, Recording, Sensor

PAIR_HEADER = (
    "second",
    "reference_bpm",
    "tested_bpm",
    "difference_bpm",
    "reference_flags",
    "tested_flags",
)

SUFFIXES = {
    "bpm": "bpm",
    "bpm per bpm": "bpm_per_bpm",
    "%": "percent",
    "s": "seconds",
    "share, 0 to 1": "0_to_1",
    "count": "count",
    "no unit": "",
}
"""What the name of a column ends in, by the unit of its figure."""

FACTS = (
    "day",
    "start",
    "activity",
    "reference",
    "tested",
    "tested_firmware",
    "usable",
    "shift_seconds",
    "shift_standard_error_seconds",
    "shift_ambiguous",
    "part_seconds",
    "reference_load_trimp",
    "tested_load_trimp",
    "load_difference_percent",
    "reference_recovery_hours",
    "tested_recovery_hours",
    "recovery_difference_hours",
)
"""First columns of the table of pairs; the figures follow, and the remarks."""

Cell = str | int | float | bool | None


def column_of(name: str, unit: str) -> str:
    """Name of a figure's column, its unit at the end unless the name ends in it already."""
    suffix = SUFFIXES.get(unit, slugify(unit).replace("-", "_"))
    return name if not suffix or name.endswith(suffix) else f"{name}_{suffix}"


def pair_rows(pair: Pair) -> Iterator[list[Cell]]:
    """Header, and a row for each second of the part; empty where a second is not common to both."""
    yield list(PAIR_HEADER)
    for second, reference, tested, of_reference, of_tested in second_by_second(pair):
        known = math.isfinite(reference) and math.isfinite(tested)
        rates: list[Cell] = (
            [round(reference, 1), round(tested, 1), round(tested - reference, 1)] if known else [None] * 3
        )
        yield [second, *rates, of_reference, of_tested]


def pair_figures(pair: Pair) -> dict[str, Any]:
    """All figures of a pair at every length of an epoch, with units and what is known of the protocol."""
    found = report_of(pair, EPOCHS)
    # A pair without common seconds has the same keys, and nothing in them.
    report = found.report or PairReport({}, [], [], math.nan, {}, {})
    return plain(
        {
            "protocol": _protocol(pair, found.physiology),
            "recovery_hours": found.recovery.as_dict() if found.recovery else None,
            "lag_seconds": found.lag.seconds if found.lag and not found.lag.ambiguous else None,
            **report.as_dict(),
        }
    )


def agreement_rows(athlete: Athlete, sensor: Sensor, activity: Activity) -> Iterator[list[Cell]]:
    """Header, and a row for each pair of a sensor on an activity, oldest first, set aside or not."""
    yield [*FACTS, *(column_of(name, unit) for name, unit in UNITS.items()), "remarks"]
    physiology = athlete.physiology()
    pairs = list(pairs_on(athlete, sensor, activity))
    for pair, recovery in zip(pairs, recovery_of_pairs(pairs), strict=True):
        row = physiology.on(pair.part.workout.day)
        yield [
            *_facts(pair, row),
            *_recovery(recovery),
            *(_short(pair.agreement.get(name)) for name in UNITS),
            text_cell(" ".join(pair.remarks)),
        ]


def agreement_figures(
    athlete: Athlete, sensor: Sensor, activity: Activity, profile: ErrorProfile | None
) -> dict[str, Any]:
    """Pooled agreement of a sensor on an activity with units, and each pair it could rest on."""
    stored = profile.agreement if profile else {}
    return {
        "sensor": _sensor(sensor),
        "activity": activity.slug,
        "sample": "sessions: 95% intervals by leaving out one session at a time",
        "by_epoch_seconds": stored.get("epochs", {}),
        "units": stored.get("units", {}),
        "session_means": stored.get("session_means", {}),
        "by_intensity": stored.get("by_intensity", []),
        "by_direction": stored.get("by_direction", []),
        "study_summary": stored.get("study", []),
        "pairs": [
            {
                "day": pair.part.workout.day.isoformat(),
                "start": pair.part.start.isoformat(),
                "usable": pair.usable,
                "remarks": pair.remarks,
                "shift_seconds": pair.shift,
                "shift_ambiguous": pair.shift_ambiguous,
                "agreement": pair.agreement,
            }
            for pair in pairs_on(athlete, sensor, activity)
        ],
        "units_of_a_pair": dict(UNITS),
    }


def pairs_on(athlete: Athlete, sensor: Sensor, activity: Activity) -> Iterable[Pair]:
    """Pairs of a sensor on an activity without their traces, oldest first."""
    return (
        pairs_of(athlete)
        .filter(tested__sensor=sensor, part__activity=activity)
        .defer("reference__trace_blob", "tested__trace_blob", "reference_trace", "tested_trace")
        .order_by("part__start", "reference__sha256", "tested__sha256")
    )


def file_name(*words: str, ending: str) -> str:
    """Name of a file that is handed out: "pair_2026-03-02_run_left-wrist.csv"."""
    return "_".join(slug for word in words if (slug := slugify(word, allow_unicode=False))) + f".{ending}"


def _facts(pair: Pair, physiology: Physiology | None) -> list[Cell]:
    loads: list[Cell] = [None, None, None]
    if physiology:
        per_minute = load_per_minute(
            RATES, physiology.resting_rate, physiology.maximum_rate, physiology.load_weighting
        )
        reference, tested = (float(histogram_load(seconds, per_minute)) for seconds in pair.histograms)
        apart = round(100 * (tested / reference - 1), 2) if reference > 0 else None
        loads = [round(reference, 2), round(tested, 2), apart]
    day = pair.part.workout.day
    return [
        day.isoformat(),
        pair.part.local_start.isoformat(),
        text_cell(pair.part.activity.slug),
        text_cell(_name(pair.reference)),
        text_cell(_name(pair.tested)),
        text_cell(pair.tested.sensor.firmware_on(day) if pair.tested.sensor else ""),
        pair.usable,
        _short(pair.shift),
        _short(pair.shift_uncertainty),
        pair.shift_ambiguous,
        pair.part.seconds,
        *loads,
    ]


def _recovery(found: RecoveryDifference | None) -> list[Cell]:
    if found is None:
        return [None, None, None]
    return [round(one.median, 1) for one in (found.reference, found.tested, found.difference)]


def _protocol(pair: Pair, physiology: Physiology | None) -> Mapping[str, Any]:
    day = pair.part.workout.day
    return {
        "day": day.isoformat(),
        "start": pair.part.local_start.isoformat(),
        "part_seconds": pair.part.seconds,
        "activity": pair.part.activity.slug,
        "family": pair.part.activity.get_family_display(),
        "reference": _worn(pair.reference, pair),
        "tested": _worn(pair.tested, pair),
        "usable": pair.usable,
        "remarks": pair.remarks,
        "difference": "tested minus reference",
        "clocks_synchronised": clocks_agree(pair),
        "tested_moved_earlier_by_seconds": pair.shift,
        "shift_standard_error_seconds": pair.shift_uncertainty,
        "drift_seconds_per_hour": pair.shift_drift,
        "shift_ambiguous": pair.shift_ambiguous,
        "common_seconds": pair.common_seconds,
        "resting_heart_rate_bpm": physiology.resting_rate if physiology else None,
        "maximum_heart_rate_bpm": physiology.maximum_rate if physiology else None,
        "load": "Banister's training impulse, arbitrary units",
    }


def _worn(recording: Recording, pair: Pair) -> Mapping[str, Any]:
    known = recording.sensor
    firmware = known.firmware_on(pair.part.workout.day) if known else ""
    return {
        **(_sensor(known) if known else {"name": recording.file_name}),
        "firmware": firmware,
        "clock": recording.clock,
    }


def _sensor(sensor: Sensor) -> dict[str, str]:
    return {"name": sensor.name, "site": sensor.site, "principle": sensor.principle}


def _name(recording: Recording) -> str:
    return recording.sensor.name if recording.sensor else recording.file_name


def _short(value: float | None) -> float | None:
    """Six digits: the rest of a double is noise."""
    return float(f"{value:.6g}") if isinstance(value, float) else value


def text_cell(words: str) -> str:
    """Text that no table program takes for a formula."""
    return f"'{words}" if words[:1] in {"=", "+", "-", "@", "\t", "\r"} else words
