"""The figures that the drawings of a trend show, as rows of a table."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from trainlog.trace import FloatArray


@dataclass(frozen=True)
class Figure:
    """Low, median and high, as a drawn interval takes them."""

    low: float
    median: float
    high: float

    @property
    def defined(self) -> bool:
        """Whether there is one: not of seven equal days, say."""
        return self.median == self.median


@dataclass(frozen=True)
class DrawnRow:
    """What the drawings show of one day, or of one week of a long span."""

    first: date
    load: Figure
    acute: Figure
    chronic: Figure
    slow: Figure
    fast: Figure


def drawn_rows(days: Sequence[date], figures: Mapping[str, FloatArray]) -> list[DrawnRow]:
    """Rows of the table, the latest first.

    Parameters
    ----------
    days : sequence of date
        First day of each bar, oldest first.
    figures : mapping of array, shape (days, 3)
        Low, median and high of "load", "acute", "chronic", "slow" and "fast", as they are drawn.
    """
    rows = [
        DrawnRow(day, **{name: Figure(*map(float, values[place])) for name, values in figures.items()})
        for place, day in enumerate(days)
    ]
    return rows[::-1]
