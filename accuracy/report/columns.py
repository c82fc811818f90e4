"""Columns that several tables of a report share, and cells for them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import date

from accuracy.core.agreement.pooled import Figure
from accuracy.report.document import Cell, Column, Table
from accuracy.report.evidence import PartPair

SESSION = Column("session", "session")
DAY = Column("day", "day")
ACTIVITY = Column("activity", "activity")
SESSIONS = Column("sessions", "sessions", digits=0)
BIAS = Column("bias", "bias_bpm", "bpm", 1)
BIAS_LOW = Column("95% interval from", "bias_interval_low_bpm", "bpm", 1)
BIAS_HIGH = Column("to", "bias_interval_high_bpm", "bpm", 1)
SD = Column("standard deviation", "sd_bpm", "bpm", 1)
LOWER = Column("lower limit", "lower_limit_bpm", "bpm", 1)
UPPER = Column("upper limit", "upper_limit_bpm", "bpm", 1)
MEAN_ERROR = Column("mean absolute error", "mean_absolute_error_bpm", "bpm", 1)
PERCENT_ERROR = Column("mean absolute percentage error", "mean_absolute_error_percent", "%", 1)
CLOSE = Column("within 10% or 5 bpm", "within_10_percent_or_5_bpm_percent", "%", 0)


def minutes(name: str, key: str, digits: int = 0) -> Column:
    """Column of minutes."""
    return Column(name, f"{key}_min", "min", digits)


def known(value: float | None) -> float | None:
    """A number, or None where it is not one."""
    return None if value is None or not math.isfinite(value) else float(value)


def per_cent(share: float | None) -> float | None:
    """A share from 0 to 1 in per cent."""
    found = known(share)
    return None if found is None else 100 * found


def ends(figure: Figure) -> tuple[Cell, Cell, Cell]:
    """Value, and both ends of its interval."""
    return known(figure.value), known(figure.low), known(figure.high)


def day_in_words(day: date) -> str:
    """For example "2 March 2026"."""
    return f"{day.day} {day:%B %Y}"


Cells = Sequence[tuple[Column, Cell]]
"""Cells of a row, each with its column."""


def filled(name: str, caption: str, cells: Sequence[Cells], note: str = "") -> Table:
    """Table of rows that have the same columns."""
    columns = tuple(column for column, _ in cells[0]) if cells else ()
    return Table(name, caption, columns, tuple(tuple(cell for _, cell in row) for row in cells), note)


def who(part: PartPair, *, dated: bool = False) -> tuple[tuple[Column, Cell], ...]:
    """First cells of a row on one pair, with their columns; a day is left out where none may be told."""
    day = ((DAY, part.day),) if dated and part.day is not None else ()
    return ((SESSION, part.label), *day, (ACTIVITY, part.activity))
