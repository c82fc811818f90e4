"""Delimited text (comma, semicolon or tab) with a time and a heart rate or RR interval in each row."""

from __future__ import annotations

import csv
import hashlib
import re
from collections.abc import Iterator
from datetime import datetime
from itertools import chain, groupby
from zoneinfo import ZoneInfo

import numpy as np

from trainlog.readers.delimited_columns import Columns, CsvColumns, find_columns, has_header
from trainlog.readers.delimited_times import to_unix_seconds
from trainlog.readers.errors import UnreadableFile
from trainlog.readers.samples import Samples, Stretch
from trainlog.readers.text import Lines
from trainlog.trace import FloatArray

MOST_COLUMNS = 1000

_SIGNALS = ("heart_rate", "cadence", "speed", "power", "altitude")
_SEPARATORS = ";\t,|"


def decode(lines: Lines, *, columns: CsvColumns, time_zone: ZoneInfo) -> Samples:
    """Decode a delimited text.

    Parameters
    ----------
    lines : Lines
        The file.
    columns : CsvColumns
        What the athlete said about its columns.
    time_zone : ZoneInfo
        Zone of times that name none.

    Returns
    -------
    Samples
        With notes on what was assumed.

    Raises
    ------
    UnreadableFile
        If its columns cannot be told, or its times lack a start.
    """
    notes = list(lines.notes)
    separator = _separator(lines)
    found, numbers, cells = _needed_cells(lines, separator, columns)
    start = columns.start or lines.start(time_zone)
    times, assumed, elapsed = _times(cells, numbers, found, start, time_zone)
    notes += assumed
    channels = {name: _numbers(name, cells[name], numbers, notes) for name in _SIGNALS if name in cells}
    if re.search(r"km|kph", found.name("speed")):
        channels["speed"] = channels["speed"] / 3.6
    beats, lengths = _rr_intervals(cells, numbers, times, notes)
    return Samples(
        format="csv",
        times=times,
        channels=channels,
        rr_times=beats,
        rr_ms=lengths,
        source_key=_source_key(lines),
        stretches=_stretches(cells, times, lines.sport()),
        counts_from_start=elapsed,
        notes=tuple(notes),
    )


def layout_key(lines: Lines) -> str:
    """Key of the names and number of columns of a text, the same for every file of one exporter.

    Parameters
    ----------
    lines : Lines
        The file.

    Returns
    -------
    str
        Twelve hexadecimal digits.
    """
    separator = next((mark for mark in _SEPARATORS if mark in lines.rows[0]), "")
    first = next(csv.reader(lines.rows[:1], delimiter=separator or ","), [])
    names = [cell.strip() for cell in first] if has_header(first) else []
    layout = separator.join(names) or f"{separator}{len(first)}"
    return hashlib.sha256(layout.encode()).hexdigest()[:12]


def is_table(lines: Lines) -> bool:
    """Whether the first row has more than one column."""
    return any(mark in lines.rows[0] for mark in _SEPARATORS)


def _separator(lines: Lines) -> str:
    found = next((mark for mark in _SEPARATORS if mark in lines.rows[0]), "")
    if not found:
        raise UnreadableFile(
            "The first row has a single column, so the file is no table of times and heart rates",
            where=f"line {lines.numbers[0]}",
            remedy="Separate the columns by comma, semicolon or tab.",
        )
    return found


def _needed_cells(
    lines: Lines, separator: str, wanted: CsvColumns
) -> tuple[Columns, list[int], dict[str, list[str]]]:
    """Which columns there are, the line of each row, and the cells of the columns that are needed."""
    rows = _rows(lines, separator)
    first = next(rows)
    second = next(rows, None)
    if len(first[1]) > MOST_COLUMNS:
        raise UnreadableFile(
            f"The file has more than {MOST_COLUMNS:,} columns",
            where=f"line {first[0]}",
            remedy="Export the workout as text with one row for each sample.",
        )
    found = find_columns(first[1], wanted, second[1] if second else [], first[0])
    body = chain([] if found.names else [first], [second] if second else [], rows)
    numbers: list[int] = []
    cells: dict[str, list[str]] = {name: [] for name in found.index}
    for number, row in body:
        numbers.append(number)
        for name, index in found.index.items():
            cells[name].append(row[index].strip() if index < len(row) else "")
    if not numbers:
        raise UnreadableFile("The file has names of columns but no rows", remedy="Export the workout again.")
    return found, numbers, cells


def _rows(lines: Lines, separator: str) -> Iterator[tuple[int, list[str]]]:
    """Cells of each row, with the line on which it ends."""
    reader = csv.reader(lines.rows, delimiter=separator)
    try:
        for cells in reader:
            yield lines.numbers[reader.line_num - 1], cells
    except csv.Error as error:
        raise UnreadableFile(
            "A row of the file cannot be split into columns",
            where=f"line {lines.numbers[min(reader.line_num, len(lines.numbers)) - 1]}",
            remedy="Check that row for a stray quotation mark.",
        ) from error


def _times(
    cells: dict[str, list[str]],
    numbers: list[int],
    found: Columns,
    start: datetime | None,
    time_zone: ZoneInfo,
) -> tuple[FloatArray, list[str], bool]:
    clocks = cells["time"]
    if "date" in cells and "-" not in clocks[0]:
        clocks = [f"{day}T{clock}" for day, clock in zip(cells["date"], clocks, strict=True)]
    return to_unix_seconds(
        clocks,
        numbers,
        in_milliseconds=bool(re.search(r"(?<![a-z])ms(?![a-z])|milli", found.name("time"))),
        start=start,
        time_zone=time_zone,
    )


def _numbers(column: str, cells: list[str], numbers: list[int], notes: list[str]) -> FloatArray:
    values = np.full(len(cells), np.nan)
    unreadable: list[int] = []
    for row, cell in enumerate(cells):
        if not cell or cell == "-":
            continue
        try:
            values[row] = float(cell.replace(",", "."))
        except ValueError:
            unreadable.append(numbers[row])
    if unreadable:
        word = column.replace("_", " ")
        notes.append(
            f"{len(unreadable):,} values of {word} are no numbers and count as not recorded, "
            f"the first in line {unreadable[0]}."
        )
    return values


def _rr_intervals(
    cells: dict[str, list[str]], numbers: list[int], times: FloatArray, notes: list[str]
) -> tuple[FloatArray, FloatArray]:
    """End and length of the RR interval of each row that has one; values below 10 are seconds."""
    if "rr" not in cells:
        return np.empty(0), np.empty(0)
    values = _numbers("rr", cells["rr"], numbers, notes)
    known = np.isfinite(values) & np.isfinite(times) & (values > 0)
    values = values[known]
    if len(values) and np.median(values) < 10:
        values = values * 1000
    return times[known], values


def _source_key(lines: Lines) -> str:
    return f"csv:{lines.device() or layout_key(lines)}"


def _stretches(cells: dict[str, list[str]], times: FloatArray, sport: str) -> tuple[Stretch, ...]:
    """One stretch for each run of equal words in a sport column, or one for the whole file."""
    words = [word.lower() for word in cells["sport"]] if "sport" in cells else [sport] * len(times)
    timed = [(time, word) for time, word in zip(times.tolist(), words, strict=True) if np.isfinite(time)]
    runs = [(word, [time for time, _ in run]) for word, run in groupby(timed, key=lambda pair: pair[1])]
    if not any(word for word, _ in runs) or len(runs) > 1000:
        return ()
    return tuple(Stretch(min(instants), max(instants) + 1, word) for word, instants in runs)
