"""A report as one HTML file that needs nothing beside itself."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any

from django.template.loader import render_to_string
from django.utils.safestring import SafeString, mark_safe

from accuracy.report.document import Document, Figure, Table
from accuracy.report.drawings import described, key_mark
from accuracy.report.reading import CARE, LICENCE, Numbered, day_made, heading, is_number, numbered, shown
from trainlog.charts.picture import Picture

DEEPEST = 6
"""Level of heading below which HTML has none."""

SHORT = 16
"""Letters of a cell that is not broken: a page that is too narrow for the table scrolls it."""

_NAMESPACE = re.compile(r' xmlns(?::\w+)?="[^"]*"')
_IDENTIFIER = re.compile(r'(\bid="|url\(#|href="#)')


def page_of(document: Document, pictures: Mapping[str, Picture]) -> bytes:
    """Write a report as a page: no address outside it, no script, figures within, each said in words too.

    Parameters
    ----------
    document : Document
    pictures : mapping of str to Picture
        Of its figures, by their names.
    """
    context = {
        "document": document,
        "made": day_made(document),
        "sections": [_section(one, pictures, 2) for one in numbered(document)],
        "care": CARE,
        "colophon": [words for words in (document.colophon, LICENCE) if words],
    }
    return render_to_string("accuracy/report.html", context).encode()


def _section(one: Numbered, pictures: Mapping[str, Picture], level: int) -> dict[str, Any]:
    return {
        "number": one.number,
        "anchor": one.anchor,
        "level": min(level, DEEPEST),
        "section": one.section,
        "tables": [_table(number, table) for number, table in one.tables],
        "figures": [_figure(number, figure, pictures[figure.name]) for number, figure in one.figures],
        "sections": [_section(inner, pictures, level + 1) for inner in one.sections],
    }


def _table(number: int, table: Table) -> dict[str, Any]:
    numbers = [is_number(table, place) for place in range(len(table.columns))]
    return {
        "number": number,
        "caption": table.caption,
        "note": table.note,
        "columns": [
            {"heading": heading(column), "number": is_one}
            for column, is_one in zip(table.columns, numbers, strict=True)
        ],
        "rows": [_row(table, row, numbers) for row in table.rows],
    }


def _row(table: Table, row: Sequence[Any], numbers: Sequence[bool]) -> list[dict[str, Any]]:
    cells = zip(row, table.columns, numbers, strict=True)
    return [
        {"text": (text := shown(value, column)), "look": "number" if is_one else _of_text(text)}
        for value, column, is_one in cells
    ]


def _of_text(text: str) -> str:
    """Class of a cell of text: a date or a short name stays on one line."""
    return "whole" if len(text) <= SHORT else ""


def _figure(number: int, figure: Figure, picture: Picture) -> dict[str, Any]:
    return {
        "number": number,
        "caption": figure.caption,
        "alternative": figure.alternative,
        "svg": _inline(picture.svg, f"figure-{number}", figure),
        "key": [(_mark(figure, style), meaning) for style, meaning in figure.key],
    }


def _inline(svg: str, name: str, figure: Figure) -> SafeString:
    """Drawing as part of a page: its parts' names are its own, without the addresses of name spaces."""
    own = _IDENTIFIER.sub(lambda found: f"{found[1]}{name}-", _NAMESPACE.sub("", svg))
    return mark_safe(described(own, name, figure))


def _mark(figure: Figure, style: str) -> SafeString:
    mark = _NAMESPACE.sub("", key_mark(figure, style)).replace("<svg ", '<svg aria-hidden="true" ', 1)
    return mark_safe(mark)
