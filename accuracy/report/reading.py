"""A report in reading order: numbers of sections, tables and figures, and values as they are shown."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import count
from typing import Any

from accuracy.report.document import Cell, Column, Document, Figure, Section, Table

CARE = (
    "These figures inform training; they are no diagnosis. Stop and get medical help for chest pain, "
    "fainting, unusual breathlessness or palpitations. Ask a clinician before using heart rate to guide "
    "training with a heart condition, in pregnancy, or on medicines that change heart rate."
)
"""As the pages have it."""

LICENCE = (
    "Written by the athlete’s own training log. Text, figures and data belong to the athlete; the program is "
    "free software under the Apache License 2.0."
)

STEM = re.compile(r"[a-z0-9][a-z0-9_-]*")
"""Names that files can have everywhere, and that tell nothing of a folder."""

UNKNOWN = "–"
"""Shown where a value is not known."""


@dataclass(frozen=True)
class Numbered:
    """A section with its number, such as "2.1", and its tables and figures with theirs."""

    number: str
    section: Section
    tables: tuple[tuple[int, Table], ...]
    figures: tuple[tuple[int, Figure], ...]
    sections: tuple[Numbered, ...]

    @property
    def anchor(self) -> str:
        """Name by which a link finds it."""
        return f"section-{self.number.replace('.', '-')}"


def numbered(document: Document) -> tuple[Numbered, ...]:
    """Sections of a report, everything in them numbered in reading order."""
    tables, figures = count(1), count(1)

    def number(sections: Sequence[Section], before: str) -> tuple[Numbered, ...]:
        return tuple(
            Numbered(
                f"{before}{place}",
                one,
                tuple((next(tables), table) for table in one.tables),
                tuple((next(figures), figure) for figure in one.figures),
                number(one.sections, f"{before}{place}."),
            )
            for place, one in enumerate(sections, 1)
        )

    return number(document.sections, "")


def every_section(sections: Sequence[Numbered]) -> Iterator[Numbered]:
    """Each section, and after it those within it."""
    for one in sections:
        yield one
        yield from every_section(one.sections)


def every_figure(document: Document) -> list[tuple[int, Figure]]:
    """Figures in reading order with their numbers.

    Raises
    ------
    ValueError
        If two have the same name, or one has a name that no file should have.
    """
    found = [figure for one in every_section(numbered(document)) for figure in one.figures]
    _names_differ([figure.name for _, figure in found])
    return found


def every_table(document: Document) -> list[tuple[int, Table]]:
    """Tables of the text in reading order with their numbers.

    Raises
    ------
    ValueError
        If two have the same name, or one has a name that no file should have.
    """
    found = [table for one in every_section(numbered(document)) for table in one.tables]
    _names_differ([table.name for _, table in found] + [table.name for table in document.data])
    return found


def _names_differ(names: Sequence[str]) -> None:
    twice = sorted({name for name in names if names.count(name) > 1})
    if twice:
        raise ValueError(f"files of the same name: {', '.join(twice)}")
    unfit = [name for name in names if not STEM.fullmatch(name)]
    if unfit:
        raise ValueError(f"no name of a file: {', '.join(unfit)}")


def shown(value: Cell, column: Column) -> str:
    """Value as text: its column's decimals, a true minus, a dash where it is not known."""
    if value is None or (isinstance(value, float) and not math.isfinite(value)):
        return UNKNOWN
    if isinstance(value, str):
        return value
    digits = column.digits if column.digits is not None else (0 if isinstance(value, int) else 2)
    text = f"{value:.{digits}f}"
    if float(text) == 0:
        text = text.lstrip("-")
    return text.replace("-", "−")


def is_number(table: Table, place: int) -> bool:
    """Whether a column holds numbers, so that it is set to the right."""
    return table.columns[place].digits is not None or any(
        isinstance(row[place], int | float) for row in table.rows
    )


def heading(column: Column) -> str:
    """Name of a column with its unit, which stays on the line of the name's last word."""
    return f"{column.name},\N{NO-BREAK SPACE}{column.unit}" if column.unit else column.name


def day_made(document: Document) -> str:
    """Day on which a report was made, as "9 March 2026"; empty where it leaves days out."""
    made: Any = document.made_on
    return f"{made.day} {made:%B %Y}" if made else ""
