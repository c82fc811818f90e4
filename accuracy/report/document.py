"""What a report says, apart from how it looks: sections of paragraphs, tables and figures.

Whoever gathers evidence fills these, whoever writes HTML, PDF or an archive reads them, and neither knows
of the other.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any

Cell = str | float | int | None
"""Value of a table; None is not known, and is shown as a dash and written as an empty cell."""


@dataclass(frozen=True)
class Column:
    """Column of a table.

    Attributes
    ----------
    name : str
        For people, such as "lower limit of agreement".
    key : str
        For the file with the data: lower case, words joined by ``_``, unit last (``bias_bpm``).
    unit : str
        As it is shown beside the name; empty for text and pure numbers.
    digits : int or None
        Decimals that are shown of a number; the file with the data holds all. None for text.
    """

    name: str
    key: str
    unit: str = ""
    digits: int | None = None


@dataclass(frozen=True)
class Table:
    """Table with a caption, shown in the document and written as CSV.

    Attributes
    ----------
    name : str
        Stem of its file.
    """

    name: str
    caption: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[Cell, ...], ...]
    note: str = ""


@dataclass(frozen=True)
class Figure:
    """Chart with a caption.

    Attributes
    ----------
    name : str
        Stem of its files.
    spec : dict
        Vega-Lite specification with style names and no colours.
    alternative : str
        The same facts in words, for whoever does not see it.
    key : tuple of (str, str)
        Style name and meaning of each mark, as the page has it below the chart.
    """

    name: str
    caption: str
    spec: Mapping[str, Any]
    alternative: str
    key: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True)
class Section:
    """Heading with what stands under it, in this order."""

    title: str
    paragraphs: tuple[str, ...] = ()
    tables: tuple[Table, ...] = ()
    figures: tuple[Figure, ...] = ()
    sections: tuple[Section, ...] = ()


@dataclass(frozen=True)
class Document:
    """A whole report.

    Attributes
    ----------
    title, subtitle : str
        What was tested against what.
    made_on : date or None
        None in an anonymised report.
    summary : tuple of str
        The findings in sentences, the most important first; written from the numbers by rules.
    sections : tuple of Section
        In reading order.
    by_sensor : tuple of (str, tuple of str)
        Of a report on several sensors: name of each, and the findings on it in sentences.
    data : tuple of Table
        Written to the archive alone, such as paired traces.
    references : tuple of str
        Published sources of the methods.
    colophon : str
        Program version and method version, so that somebody else can make it again.
    """

    title: str
    subtitle: str
    made_on: date | None
    summary: tuple[str, ...]
    sections: tuple[Section, ...]
    by_sensor: tuple[tuple[str, tuple[str, ...]], ...] = ()
    data: tuple[Table, ...] = ()
    references: tuple[str, ...] = field(default=())
    colophon: str = ""
