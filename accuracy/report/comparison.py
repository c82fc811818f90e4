"""Several tested sensors side by side."""

from __future__ import annotations

from collections.abc import Sequence

from accuracy.core.agreement.pooled import Figure as PooledFigure
from accuracy.report.columns import ends
from accuracy.report.document import Cell, Column, Section, Table
from accuracy.report.evidence import SensorEvidence, enough
from accuracy.report.findings import Findings
from accuracy.report.sentences import listed
from accuracy.services.wording import counted

FIGURES = {
    "bias": ("bias", "bpm"),
    "lower_limit": ("lower limit of agreement", "bpm"),
    "upper_limit": ("upper limit of agreement", "bpm"),
    "mean_absolute_error": ("mean absolute error", "bpm"),
    "mean_absolute_percentage_error": ("mean absolute percentage error", "%"),
}
OF_LIMITS = {"lower_limit", "upper_limit"}


def side_by_side(
    sensors: Sequence[SensorEvidence], findings: Sequence[Findings], *, paired: Sequence[Section] = ()
) -> Section:
    """Section with the figures of all sensors beside each other.

    Parameters
    ----------
    sensors, findings : sequence
        In the same order.
    paired : sequence of Section
        Comparison of sensors on the same or on matched sessions; stands below the table.
    """
    columns = [Column("figure", "figure"), Column("unit", "unit")]
    for one in sensors:
        begins = one.stem.rstrip("_") or "sensor"
        columns += [
            Column(one.name, f"{begins}_value", digits=1),
            Column("95% interval from", f"{begins}_interval_low", digits=1),
            Column("to", f"{begins}_interval_high", digits=1),
        ]
    table = Table(
        "sensors_side_by_side",
        f"Figures of each sensor: {listed([f'{one.name} over {_sample(one)}' for one in sensors])}",
        tuple(columns),
        tuple(_rows(sensors, findings)),
    )
    return Section(
        "Sensors side by side",
        (
            "Each sensor's figures rest on its own sessions. Sessions differ in kind and intensity, so a "
            "difference between columns may be one of sessions and not of sensors: overlapping or separate "
            "intervals do not say which sensor is nearer to the heart.",
        ),
        (table,),
        sections=tuple(paired),
    )


def _sample(one: SensorEvidence) -> str:
    return f"{counted(len(one.sessions), 'session')} and {one.hours:.1f} h"


def _rows(sensors: Sequence[SensorEvidence], findings: Sequence[Findings]) -> list[tuple[Cell, ...]]:
    nothing: tuple[Cell, ...] = (None, None)
    rows: list[tuple[Cell, ...]] = []
    for name, (words, unit) in FIGURES.items():
        cells = [cell for one in sensors for cell in ends(_pooled(one, name))]
        rows.append((words, unit, *cells))
    load = [one.load for one in findings]
    rows.append(
        (
            "load, mean difference",
            "%",
            *(
                cell
                for one in load
                for cell in ((one.mean.value, one.mean.low, one.mean.high) if one else (None, *nothing))
            ),
        )
    )
    for words, pick in (
        ("load, held-out error as it stands", "as_it_stands"),
        ("load, held-out error corrected", "corrected"),
    ):
        values = [getattr(one.correction, pick) if one.correction else None for one in findings]
        rows.append((words, "%", *(cell for value in values for cell in (value, *nothing))))
    return rows


def _pooled(one: SensorEvidence, name: str) -> PooledFigure:
    pooled = one.pooled()
    missing = PooledFigure(float("nan"))
    if pooled is None or (name in OF_LIMITS and not enough(pooled.sessions)):
        return missing
    return pooled.figures[name]
