"""A comparison of sensors as rows for CSV and as nested figures for JSON, every number with its unit."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import asdict
from typing import Any

from accuracy.core.agreement.differences import plain
from accuracy.core.agreement.sensor_comparison import UNITS, Comparison, SessionError
from accuracy.core.agreement.session_matching import INTENSITY_BOUND, LENGTH_BOUND
from accuracy.services.compared_sessions import LeftOut, Paired
from accuracy.services.exports import Cell, text_cell
from accuracy.services.sensor_comparison import Answer, Compared

SHORT = {
    "bias": "bias_bpm",
    "mean_absolute_error": "mean_absolute_error_bpm",
    "limits_width": "limits_width_bpm",
    "mean_absolute_percentage_error": "mean_absolute_percentage_error_percent",
    "load_error": "load_error_100_abs_log_ratio",
}
"""Column of each figure."""

FACTS = (
    "first_sensor",
    "second_sensor",
    "reference",
    "first_day",
    "second_day",
    "activities",
    "matching_distance",
    "first_seconds",
    "second_seconds",
    "first_reference_mean_bpm",
    "second_reference_mean_bpm",
)


def comparison_rows(answer: Answer) -> Iterator[list[Cell]]:
    """Header, and a row for each session of each two sensors, with the figures of both."""
    figures = [f"{which}_{column}" for column in SHORT.values() for which in ("first", "second")]
    yield [*FACTS, *figures]
    reference = text_cell(answer.reference.name) if answer.reference else None
    for compared in answer.compared:
        for one in compared.sessions:
            both = (one.first, one.second)
            yield [
                text_cell(compared.first.name),
                text_cell(compared.second.name),
                reference,
                one.first_workout.day.isoformat(),
                one.second_workout.day.isoformat(),
                text_cell(", ".join(kind.slug for kind in one.activities)),
                None if one.distance is None else round(one.distance, 4),
                *(error.seconds for error in both),
                *(round(error.reference_mean, 2) for error in both),
                *(_known(error, name) for name in SHORT for error in both),
            ]


def comparison_figures(answer: Answer) -> dict[str, Any]:
    """Everything that was compared, with units, intervals and what is adjusted."""
    return {
        "reference": answer.reference.name if answer.reference else None,
        "sensors": [sensor.name for sensor in answer.sensors],
        "sessions": answer.way.value,
        "sample": "sessions: 95% intervals by Student's t over the differences of sessions",
        "difference": "first sensor less second",
        "units": dict(UNITS),
        "matched_within": {
            "heart_rate_reserve_points": INTENSITY_BOUND,
            "length_factor": LENGTH_BOUND,
        },
        "adjusted": {
            "method": "Holm, of p values of mean_absolute_error alone",
            "of_two_sensors": answer.whole_looks,
            "of_lines_by_activity": answer.activity_looks,
        },
        "compared": [_compared(one) for one in answer.compared],
    }


def _compared(one: Compared) -> dict[str, Any]:
    return {
        "first": one.first.name,
        "second": one.second.name,
        "whole": _comparison(one.whole),
        "by_activity": {kind.slug: _comparison(own) for kind, own in one.by_activity},
        "adjusted_p": plain({slug or "whole": p for slug, p in one.adjusted.items()}),
        "sessions": [_session(session) for session in one.sessions],
        "left_out": [_left(left) for left in one.left_out],
    }


def _comparison(found: Comparison) -> dict[str, Any]:
    return plain(
        {
            "sessions": found.sessions,
            "figures": {name: asdict(figure) for name, figure in found.figures.items()},
            "bias_variance": asdict(found.bias_variance) if found.bias_variance else None,
        }
    )


def _session(one: Paired) -> dict[str, Any]:
    return {
        "first_day": one.first_workout.day.isoformat(),
        "second_day": one.second_workout.day.isoformat(),
        "first_workout": one.first_workout.pk,
        "second_workout": one.second_workout.pk,
        "activities": [kind.slug for kind in one.activities],
        "matching_distance": one.distance,
        **{
            which: plain({"seconds": error.seconds, **{name: _known(error, name) for name in UNITS}})
            for which, error in (("first", one.first), ("second", one.second))
        },
    }


def _left(one: LeftOut) -> dict[str, Any]:
    return plain(
        {
            "sensor": one.sensor.name,
            "day": one.session.workout.day.isoformat(),
            "workout": one.session.workout.pk,
            "activity": one.session.activity.slug,
            "heart_rate_reserve_percent": one.session.intensity,
            "seconds": one.session.error.seconds,
        }
    )


def _known(error: SessionError, name: str) -> float | None:
    value = getattr(error, name)
    return round(value, 4) if math.isfinite(value) else None
