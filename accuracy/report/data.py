"""Tables that go into the archive alone: both traces of each session, and every figure with all decimals."""

from __future__ import annotations

import math

import numpy as np

from accuracy.report.columns import who
from accuracy.report.document import Cell, Column, Table
from accuracy.report.evidence import PartPair, SensorEvidence
from accuracy.report.loads import load_cells
from accuracy.report.recommendations import recommendations_by_activity
from accuracy.report.sessions import file_label, heart_rate_cells


def data_of(evidence: SensorEvidence) -> list[Table]:
    """Tables of one sensor: figures of every pair, stretches far off, and each pair second by second."""
    tables = [_figures(evidence), _far_off(evidence), recommendations_by_activity(evidence)]
    return [table for table in tables if table.rows] + [_traces(evidence, part) for part in evidence.parts]


def _figures(evidence: SensorEvidence) -> Table:
    columns: list[Column] = []
    rows = []
    for part in evidence.parts:
        cells = [
            *who(part, dated=True),
            (Column("family", "family"), part.family),
            (Column("reference", "reference"), part.reference),
            (Column("firmware", "firmware"), part.firmware),
            (Column("common seconds", "common_seconds", "s", 0), part.pair.common_seconds),
            (Column("shift", "shift_seconds", "s", 2), part.pair.shift),
            (Column("shift is ambiguous", "shift_ambiguous"), "yes" if part.pair.shift_ambiguous else "no"),
            (Column("reference mean", "reference_mean_bpm", "bpm", 2), part.means[0]),
            (Column("tested mean", "tested_mean_bpm", "bpm", 2), part.means[1]),
            *heart_rate_cells(part),
            (Column("lock-on", "lock_on_seconds", "s", 0), part.lock_on_seconds),
            *load_cells(part),
            *_held_out(part),
        ]
        columns = [column for column, _ in cells]
        rows.append(tuple(cell for _, cell in cells))
    return Table(
        evidence.file("session_figures"), "Figures of every pair, by second", tuple(columns), tuple(rows)
    )


def _held_out(part: PartPair) -> list[tuple[Column, Cell]]:
    one = part.held_out
    return [
        (
            Column("corrected load over reference's", "corrected_load_ratio", digits=3),
            one.corrected if one else None,
        ),
        (
            Column("80% interval from", "corrected_load_ratio_low", digits=3),
            one.intervals[0.8][0] if one else None,
        ),
        (Column("to", "corrected_load_ratio_high", digits=3), one.intervals[0.8][1] if one else None),
    ]


def _far_off(evidence: SensorEvidence) -> Table:
    return Table(
        evidence.file("far_off"),
        "Stretches of a minute and more off by more than 10% and 5 bpm",
        (
            Column("session", "session"),
            Column("from", "from_seconds", "s", 0),
            Column("until", "until_seconds", "s", 0),
            Column("mean difference", "mean_difference_bpm", "bpm", 1),
            Column("mean of the tested sensor", "tested_mean_bpm", "bpm", 1),
        ),
        tuple(
            (part.label, one.start, one.end, one.mean_difference, one.mean_tested)
            for part in evidence.parts
            for one in part.departures
        ),
    )


def _traces(evidence: SensorEvidence, part: PartPair) -> Table:
    reference, tested = (_cells(values) for values in part.traces)
    return Table(
        evidence.file(f"traces_session_{file_label(part.label)}"),
        f"Both traces of session {part.label}, {part.activity}, on the reference's clock",
        (
            Column("second", "second", "s", 0),
            Column("reference", "reference_bpm", "bpm", 1),
            Column("tested", "tested_bpm", "bpm", 1),
        ),
        tuple(zip(range(len(reference)), reference, tested, strict=True)),
        "Seconds since the part began; empty where either is missing or was cut.",
    )


def _cells(values: np.ndarray) -> list[float | None]:
    return [value if math.isfinite(value) else None for value in values.tolist()]
