"""Rows of the tables by intensity and by direction of change, with the bar that each is drawn as."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

REACH = 1.96
"""Standard deviations to either side of the bias that a bar reaches."""

SHORTEST_SECONDS = 30
"""Seconds below which no bar is drawn (ours): a spread of a few seconds says nothing."""


@dataclass(frozen=True)
class DifferenceBar:
    """Where the drawn differences lie, in per cent of the drawing's width."""

    zero: float
    left: float
    width: float
    bias: float


@dataclass(frozen=True)
class ConditionLine:
    """One condition: its figures by the core's names, and its bar."""

    name: str
    share: float
    figures: Mapping[str, Any]
    bar: DifferenceBar | None


def lines(rows: Sequence[Mapping[str, Any]]) -> list[ConditionLine]:
    """Lines of a table, their bars on one scale that holds zero and every bias ± 1.96 standard deviations.

    Parameters
    ----------
    rows : sequence of mapping
        ``condition``, ``seconds``, ``bias``, ``sd`` and further figures; None where undefined.
    """
    drawn = [row for row in rows if _is_drawn(row)]
    ends = [0.0] + [row["bias"] + side * REACH * row["sd"] for row in drawn for side in (-1, 1)]
    low, high = min(ends), max(ends)
    span = (high - low) or 1.0

    def place(bpm: float) -> float:
        return round(100 * (bpm - low) / span, 2)

    def bar(row: Mapping[str, Any]) -> DifferenceBar:
        left, right = (place(row["bias"] + side * REACH * row["sd"]) for side in (-1, 1))
        return DifferenceBar(place(0.0), left, max(round(right - left, 2), 0.6), place(row["bias"]))

    seconds = sum(row["seconds"] for row in rows) or 1
    return [
        ConditionLine(row["condition"], row["seconds"] / seconds, row, bar(row) if _is_drawn(row) else None)
        for row in rows
    ]


def _is_drawn(row: Mapping[str, Any]) -> bool:
    known = row.get("bias") is not None and row.get("sd") is not None
    return known and row["seconds"] >= SHORTEST_SECONDS and math.isfinite(row["sd"])
