"""A report as an archive: figures, every table as data, and the two forms to read."""

from __future__ import annotations

import csv
import io
import zipfile
from collections.abc import Iterator, Mapping

from accuracy.report.document import Document, Table
from accuracy.report.drawings import described
from accuracy.report.reading import CARE, LICENCE, day_made, every_figure, every_table
from trainlog.charts.picture import Picture
from trainlog.services.exports import csv_cell

NO_DAY = (1980, 1, 1, 0, 0, 0)
"""Time of every entry: the same report gives the same bytes, and no day is told that was to be left out."""

READ_FIRST = """\
{title}
{subtitle}

summary.txt   what was found, in sentences
report.html   the whole report as one page for a browser
report.pdf    the same on paper
figures/      each figure as SVG (vector) and PNG (two pixels a point)
data/         each table and the data behind the figures as CSV

CSV files are UTF-8, separated by commas, with a header. A number has up to ten digits, more than the tables
of the report show; an empty cell is a value that is not known. A name ends with its unit (_bpm: beats a
minute, _s: seconds, _min: minutes, _h: hours, _percent: per cent); the units are also given below. A text
that a table program would take for a formula has an apostrophe before it.
"""


def archive_of(document: Document, pictures: Mapping[str, Picture], page: bytes, pdf: bytes) -> bytes:
    """Pack a report; the same report gives the same bytes.

    Parameters
    ----------
    document : Document
    pictures : mapping of str to Picture
        Of its figures, by their names.
    page, pdf : bytes
        The other two forms, which go along.
    """
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        for name, content in _entries(document, pictures, page, pdf):
            entry = zipfile.ZipInfo(name, NO_DAY)
            entry.compress_type = zipfile.ZIP_STORED if name.endswith(".png") else zipfile.ZIP_DEFLATED
            entry.create_system = 3
            entry.external_attr = 0o644 << 16
            archive.writestr(entry, content)
    return packed.getvalue()


def _findings(document: Document) -> Iterator[str]:
    """Sentences of the summary, those on one of several sensors after its name."""
    yield from document.summary
    for name, found in document.by_sensor:
        yield f"\n{name}"
        yield from found


def _entries(
    document: Document, pictures: Mapping[str, Picture], page: bytes, pdf: bytes
) -> Iterator[tuple[str, bytes]]:
    yield "README.txt", _readme(document).encode()
    yield "summary.txt", "".join(f"{words}\n" for words in _findings(document)).encode()
    yield "report.html", page
    yield "report.pdf", pdf
    for _, figure in every_figure(document):
        drawing = described(pictures[figure.name].svg, figure.name, figure)
        yield f"figures/{figure.name}.svg", drawing.encode()
        yield f"figures/{figure.name}.png", pictures[figure.name].png
    for table in (*(table for _, table in every_table(document)), *document.data):
        yield f"data/{table.name}.csv", _csv(table)


def _csv(table: Table) -> bytes:
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow([column.key for column in table.columns])
    writer.writerows([csv_cell(value) for value in row] for row in table.rows)
    return text.getvalue().encode()


def _readme(document: Document) -> str:
    lines = [READ_FIRST.format(title=document.title, subtitle=document.subtitle)]
    if day := day_made(document):
        lines.append(f"Made on {day}.\n")
    lines.append("Figures\n")
    for number, figure in every_figure(document):
        lines += [f"  figures/{figure.name}: Figure {number}. {figure.caption}", f"    {figure.alternative}"]
    lines.append("\nData\n")
    for number, table in every_table(document):
        lines += _described(table, f"Table {number}. ")
    for table in document.data:
        lines += _described(table, "")
    lines += ["", CARE, "", document.colophon, LICENCE, ""]
    return "\n".join(lines)


def _described(table: Table, before: str) -> list[str]:
    columns = [
        f"    {column.key}: {column.name}" + (f", {column.unit}" if column.unit else "")
        for column in table.columns
    ]
    return [f"  data/{table.name}.csv: {before}{table.caption}", *columns]
