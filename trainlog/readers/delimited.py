"""Delimited text (comma, semicolon or tab) with a time and a heart rate in each row.

Lines that start with ``#`` may say ``# start: 2026-03-01T06:30:00Z``, ``# device: text`` and
``# sport: run``.
"""

from __future__ import annotations

import csv
import hashlib
import re
from datetime import datetime
from itertools import groupby
from zoneinfo import ZoneInfo

import numpy as np

from trainlog.readers.checks import refuse_too_many_samples
from trainlog.readers.delimited_columns import Columns, CsvColumns, find_columns
from trainlog.readers.delimited_times import instant, to_unix_seconds
from trainlog.readers.errors import UnreadableFile
from trainlog.readers.samples import Samples, Stretch
from trainlog.trace import FloatArray

LONGEST_LINE = 100_000
"""Characters; a longer line is no row of a recording."""

_ENCODINGS = ((b"\xef\xbb\xbf", "utf-8-sig"), (b"\xff\xfe", "utf-16"), (b"\xfe\xff", "utf-16"))
_SIGNALS = ("heart_rate", "cadence", "speed", "power", "altitude")
_COMMENT = re.compile(r"#\s*([A-Za-z_ ]+?)\s*[:=]\s*(.*\S)")


def decode(data: bytes, *, columns: CsvColumns, time_zone: ZoneInfo) -> Samples:
    """Decode a delimited text.

    Parameters
    ----------
    data : bytes
        The whole file, in UTF-8, UTF-16 with a byte-order mark, or else Latin-1.
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
        If this is no text, its columns cannot be told, or its times lack a start.
    """
    notes: list[str] = []
    said, lines = _comments_and_rows(_text(data, notes))
    separator = _separator(lines[0][1])
    rows = _rows(lines, separator)
    second = rows[1][1] if len(rows) > 1 else []
    found = find_columns(rows[0][1], columns, second, rows[0][0])
    body = rows[1:] if found.names else rows
    if not body:
        raise UnreadableFile("The file has names of columns but no rows", remedy="Export the workout again.")
    start = columns.start or _start(said, time_zone)
    times, assumed = _times(body, found, start, time_zone)
    notes += assumed
    channels = {name: _numbers(body, found, name, notes) for name in _SIGNALS if name in found.index}
    if re.search(r"km|kph", found.name("speed")):
        channels["speed"] = channels["speed"] / 3.6
    beats, lengths = _rr_intervals(body, found, times, notes)
    return Samples(
        format="csv",
        times=times,
        channels=channels,
        rr_times=beats,
        rr_ms=lengths,
        source_key=_source_key(said, found, separator),
        stretches=_stretches(body, found, times, said),
        notes=tuple(notes),
    )


def _text(data: bytes, notes: list[str]) -> str:
    encoding = next((name for mark, name in _ENCODINGS if data.startswith(mark)), "utf-8")
    try:
        text = data.decode(encoding)
    except UnicodeDecodeError as error:
        if encoding != "utf-8" or b"\0" in data:
            raise _no_text() from error
        text = data.decode("latin-1")
        notes.append("The text is not UTF-8 and was read as Latin-1.")
    controls = sum(text.count(chr(code)) for code in (*range(1, 9), *range(14, 32), 127))
    if "\0" in text or controls > len(text) / 100:
        raise _no_text()
    return text


def _no_text() -> UnreadableFile:
    return UnreadableFile(
        "This is no training file the log knows: neither FIT, GPX nor delimited text",
        remedy="Export the workout as FIT, GPX or text with a time and a heart rate in each row.",
    )


def _comments_and_rows(text: str) -> tuple[dict[str, str], list[tuple[int, str]]]:
    """Part what the comment lines say from the other lines, with their numbers."""
    refuse_too_many_samples(text.count("\n"))
    said: dict[str, str] = {}
    rows = []
    for number, line in enumerate(text.splitlines(), start=1):
        if len(line) > LONGEST_LINE:
            raise UnreadableFile(
                "A line of the file is far too long for a row",
                where=f"line {number}",
                remedy="Export the workout as text with one row for each sample.",
            )
        if line.lstrip().startswith("#"):
            comment = _COMMENT.match(line.strip())
            if comment:
                said.setdefault(comment[1].lower(), comment[2])
        elif line.strip():
            rows.append((number, line))
    if not rows:
        raise UnreadableFile("The file has no rows", remedy="Export the workout again.")
    return said, rows


def _separator(line: str) -> str:
    found = next((mark for mark in ";\t,|" if mark in line), "")
    if not found:
        raise UnreadableFile(
            "The first row has a single column, so the file is no table of times and heart rates",
            where="line 1",
            remedy="Separate the columns by comma, semicolon or tab.",
        )
    return found


def _rows(lines: list[tuple[int, str]], separator: str) -> list[tuple[int, list[str]]]:
    """Cells of each line, padded to the width of the first."""
    rows: list[tuple[int, list[str]]] = []
    reader = csv.reader((line for _, line in lines), delimiter=separator)
    try:
        for cells in reader:
            width = len(rows[0][1]) if rows else len(cells)
            rows.append((lines[reader.line_num - 1][0], cells + [""] * (width - len(cells))))
    except csv.Error as error:
        raise UnreadableFile(
            "A row of the file cannot be split into columns",
            where=f"line {lines[min(reader.line_num, len(lines)) - 1][0]}",
            remedy="Check that row for a stray quotation mark.",
        ) from error
    return rows


def _start(said: dict[str, str], time_zone: ZoneInfo) -> datetime | None:
    if "start" not in said:
        return None
    start = instant(said["start"], time_zone)
    if start is None:
        raise UnreadableFile(
            f"The start “{said['start'][:40]}” is no date and time",
            remedy="Write it as “# start: 2026-03-01T06:30:00Z”.",
        )
    return start


def _times(
    body: list[tuple[int, list[str]]], found: Columns, start: datetime | None, time_zone: ZoneInfo
) -> tuple[FloatArray, list[str]]:
    cells = [row[found.index["time"]].strip() for _, row in body]
    if "date" in found.index and "-" not in cells[0]:
        days = [row[found.index["date"]].strip() for _, row in body]
        cells = [f"{day}T{clock}" for day, clock in zip(days, cells, strict=True)]
    return to_unix_seconds(
        cells,
        [number for number, _ in body],
        in_milliseconds=bool(re.search(r"(?<![a-z])ms(?![a-z])|milli", found.name("time"))),
        start=start,
        time_zone=time_zone,
    )


def _numbers(body: list[tuple[int, list[str]]], found: Columns, column: str, notes: list[str]) -> FloatArray:
    index = found.index[column]
    values = np.full(len(body), np.nan)
    unreadable: list[int] = []
    for row, (number, cells) in enumerate(body):
        cell = cells[index].strip()
        if not cell or cell == "-":
            continue
        try:
            values[row] = float(cell.replace(",", "."))
        except ValueError:
            unreadable.append(number)
    if unreadable:
        word = column.replace("_", " ")
        notes.append(
            f"{len(unreadable):,} values of {word} are no numbers and count as not recorded, "
            f"the first in line {unreadable[0]}."
        )
    return values


def _rr_intervals(
    body: list[tuple[int, list[str]]], found: Columns, times: FloatArray, notes: list[str]
) -> tuple[FloatArray, FloatArray]:
    """End and length of the RR interval of each row that has one; values below 10 are seconds."""
    if "rr" not in found.index:
        return np.empty(0), np.empty(0)
    values = _numbers(body, found, "rr", notes)
    known = np.isfinite(values) & np.isfinite(times) & (values > 0)
    values = values[known]
    if len(values) and np.median(values) < 10:
        values = values * 1000
    return times[known], values


def _source_key(said: dict[str, str], found: Columns, separator: str) -> str:
    if "device" in said:
        return "csv:" + " ".join(said["device"].split())[:200]
    layout = separator.join(found.names) or f"{separator}{len(found.index)}"
    return "csv:" + hashlib.sha256(layout.encode()).hexdigest()[:12]


def _stretches(
    body: list[tuple[int, list[str]]], found: Columns, times: FloatArray, said: dict[str, str]
) -> tuple[Stretch, ...]:
    """One stretch for each run of equal words in a sport column, or one for the whole file."""
    words = [said.get("sport", "").strip().lower()] * len(body)
    if "sport" in found.index:
        words = [cells[found.index["sport"]].strip().lower() for _, cells in body]
    timed = [(time, word) for time, word in zip(times.tolist(), words, strict=True) if np.isfinite(time)]
    runs = [(word, [time for time, _ in run]) for word, run in groupby(timed, key=lambda pair: pair[1])]
    if not any(word for word, _ in runs) or len(runs) > 1000:
        return ()
    return tuple(Stretch(min(instants), max(instants) + 1, word) for word, instants in runs)
