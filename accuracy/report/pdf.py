"""A report as PDF: tagged for screen readers, the same bytes for the same report."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from accuracy.report.document import Document, Figure, Table
from accuracy.report.drawings import WIDTH, key_mark
from accuracy.report.reading import (
    CARE,
    LICENCE,
    Numbered,
    day_made,
    heading,
    is_number,
    numbered,
    shown,
)
from accuracy.report.widths import fit
from trainlog.charts.ink import FONTS
from trainlog.charts.picture import Picture

TEMPLATE = Path(__file__).with_name("report.typ")

PRINTED = "Libertinus Serif"
"""Font of the text, and of the figures in it: the compiler carries it."""

ACCESSIBLE = "ua-1"
"""PDF/UA-1, ISO 14289-1:2014: structure, language and an alternative to each figure."""


def pdf_of(document: Document, pictures: Mapping[str, Picture]) -> bytes:
    """Set a report on A4 pages.

    It is a PDF/UA-1 file unless a text holds a character that none of the compiler's own fonts has: then this
    machine's fonts may help, and what no font has is a box, which that standard does not allow.

    Parameters
    ----------
    document : Document
    pictures : mapping of str to Picture
        Of its figures, by their names.
    """
    import typst  # noqa: PLC0415  (30 MB that only this needs)

    try:
        return _compiler(document, pictures).compile(format="pdf", pdf_standards=[ACCESSIBLE])
    except typst.TypstError as refusal:
        if "could not be displayed" not in str(refusal):
            raise
        return _compiler(document, pictures, ignore_system_fonts=False).compile(format="pdf")


def _compiler(
    document: Document, pictures: Mapping[str, Picture], *, ignore_system_fonts: bool = True
) -> Any:
    import typst  # noqa: PLC0415

    return typst.Compiler(
        str(TEMPLATE),
        root=str(TEMPLATE.parent),
        ignore_system_fonts=ignore_system_fonts,
        sys_inputs={"report": json.dumps(content(document, pictures))},
    )


def content(document: Document, pictures: Mapping[str, Picture]) -> dict[str, Any]:
    """What the template is given: all that a report says, every text as it stands."""
    made = document.made_on
    return {
        "title": document.title,
        "subtitle": document.subtitle,
        "made": day_made(document),
        "day": {"year": made.year, "month": made.month, "day": made.day} if made else None,
        "summary": list(document.summary),
        "by_sensor": [{"name": name, "found": list(found)} for name, found in document.by_sensor],
        "sections": _sections(numbered(document), pictures),
        "references": list(document.references),
        "care": CARE,
        "colophon": [words for words in (document.colophon, LICENCE) if words],
    }


def _sections(sections: Sequence[Numbered], pictures: Mapping[str, Picture]) -> list[dict[str, Any]]:
    return [
        {
            "title": one.section.title,
            "paragraphs": list(one.section.paragraphs),
            "tables": [_table(table) for _, table in one.tables],
            "figures": [_figure(figure, pictures[figure.name]) for _, figure in one.figures],
            "sections": _sections(one.sections, pictures),
        }
        for one in sections
    ]


def _table(table: Table) -> dict[str, Any]:
    headings = [heading(column) for column in table.columns]
    numbers = [is_number(table, place) for place in range(len(headings))]
    rows = [
        [shown(value, column) for value, column in zip(row, table.columns, strict=True)] for row in table.rows
    ]
    fitted = fit(headings, rows, numbers)
    columns = zip(headings, numbers, fitted.widths, strict=True)
    return {
        "caption": table.caption,
        "note": table.note,
        "size": fitted.size,
        "columns": [{"heading": one, "number": number, "width": width} for one, number, width in columns],
        "rows": rows,
    }


def _figure(figure: Figure, picture: Picture) -> dict[str, Any]:
    return {
        "caption": figure.caption,
        "alternative": figure.alternative,
        "svg": picture.svg.replace(FONTS, PRINTED),
        "share": min(1.0, picture.width / (WIDTH + 60)),
        "key": [[key_mark(figure, style), meaning] for style, meaning in figure.key],
    }
