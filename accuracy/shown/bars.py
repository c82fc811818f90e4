"""Small drawn intervals on one scale, for tables."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

THINNEST = 0.6
"""Width below which a bar would not be seen, in per cent of the drawing's."""


@dataclass(frozen=True)
class Bar:
    """Where zero, an interval and its middle lie, in per cent of the drawing's width."""

    zero: float
    left: float
    width: float
    bias: float


def bars(spans: Sequence[Sequence[float]]) -> list[Bar]:
    """Bars of intervals, all on a scale that holds them and zero.

    Parameters
    ----------
    spans : sequence of (low, middle, high)
        In one unit.
    """
    ends = [0.0, *(end for span in spans for end in span)]
    low, high = min(ends), max(ends)
    margin = 0.02 * ((high - low) or 1.0)
    low, high = low - margin, high + margin

    def place(value: float) -> float:
        return round(100 * (value - low) / (high - low), 2)

    return [
        Bar(place(0.0), place(left), max(round(place(right) - place(left), 2), THINNEST), place(middle))
        for left, middle, right in spans
    ]
