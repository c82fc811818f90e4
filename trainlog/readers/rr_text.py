"""RR intervals as text: one interval on each line, in milliseconds or seconds, oldest first."""

from __future__ import annotations

import re
from datetime import datetime
from zoneinfo import ZoneInfo

import numpy as np

from trainlog.readers.errors import UnreadableFile
from trainlog.readers.reading import Clock
from trainlog.readers.samples import Samples, Stretch
from trainlog.readers.text import Lines
from trainlog.rr import LONGEST_INTERVAL
from trainlog.trace import FloatArray

_NUMBER = re.compile(r"\s*\d{1,6}(?:[.,]\d{1,9})?\s*[;,]?\s*")
_DECIMAL_COMMA = re.compile(r"\s*[0-3],\d{1,9}\s*")
_HEADER = re.compile(r"[^\d;,\t|]{1,60}")
_LOOKED_AT = 50
_FEWEST_WITH_COMMA = 10
_SECONDS_BELOW = 10.0
_SHORTEST_TYPICAL = 240.0
_LARGEST_SHARE_UNREADABLE = 0.02


def is_rr_text(lines: Lines) -> bool:
    """Whether a text holds one number on each line, below at most one line of words.

    A comma is taken as a decimal one only if ten lines or more all begin with 0 to 3: as seconds
    since a start they would soon have passed that.
    """
    rows = lines.rows[:_LOOKED_AT]
    rows = rows[1:] if len(rows) > 1 and _HEADER.fullmatch(rows[0].strip()) else rows
    if any("," in row.strip().rstrip(",;") for row in rows):
        return len(rows) >= _FEWEST_WITH_COMMA and all(_DECIMAL_COMMA.fullmatch(row) for row in rows)
    return sum(bool(_NUMBER.fullmatch(row)) for row in rows) >= max(1, 0.9 * len(rows))


def decode(lines: Lines, *, start: datetime | None, time_zone: ZoneInfo) -> Samples:
    """Decode a text of RR intervals; heart rate is left to be derived from them.

    Parameters
    ----------
    lines : Lines
        The file.
    start : datetime, optional
        When the first interval began, as the athlete says; it goes before what the file says.
    time_zone : ZoneInfo
        Zone of a start in the file that names none.

    Returns
    -------
    Samples
        With one sample at the start, without a heart rate.

    Raises
    ------
    UnreadableFile
        If no start is known, or more than 2% of the lines are no numbers.
    """
    start = start or lines.start(time_zone)
    if start is None:
        raise UnreadableFile(
            "The file holds RR intervals and does not say when the recording was",
            remedy="Enter the start of the workout, or add a first line such as "
            "“# start: 2026-03-01T06:30:00Z”.",
            asks_for="start",
        )
    notes = list(lines.notes)
    intervals = _milliseconds(lines, notes)
    ends = start.timestamp() + np.cumsum(np.nan_to_num(intervals)) / 1000
    known = np.isfinite(intervals)
    sport = lines.sport()
    return Samples(
        format="rr",
        times=np.array([start.timestamp()]),
        channels={"heart_rate": np.array([np.nan])},
        rr_times=ends[known],
        rr_ms=intervals[known],
        source_key=f"rr:{lines.device()}" if lines.device() else "",
        clock=Clock.UNKNOWN,
        stretches=(Stretch(start.timestamp(), float(ends[-1]) + 1, sport),) if sport else (),
        counts_from_start=True,
        notes=tuple(notes),
    )


def _milliseconds(lines: Lines, notes: list[str]) -> FloatArray:
    rows, numbers = lines.rows, lines.numbers
    if len(rows) > 1 and _HEADER.fullmatch(rows[0].strip()):
        rows, numbers = rows[1:], numbers[1:]
    values = np.full(len(rows), np.nan)
    unreadable: list[int] = []
    for row, text in enumerate(rows):
        if _NUMBER.fullmatch(text):
            values[row] = float(text.strip().rstrip(",; \t").replace(",", "."))
        else:
            unreadable.append(numbers[row])
    if len(unreadable) > _LARGEST_SHARE_UNREADABLE * len(rows):
        raise UnreadableFile(
            f"{len(unreadable):,} of {len(rows):,} lines hold no RR interval",
            where=f"line {unreadable[0]}",
            remedy="Write one interval on each line, in milliseconds or seconds.",
        )
    if unreadable:
        notes.append(
            f"{len(unreadable):,} lines hold no RR interval and were left out, the first is line "
            f"{unreadable[0]}; beats after it may lie too early."
        )
    typical = float(np.nanmedian(values))
    if typical < _SECONDS_BELOW:
        values, typical = values * 1000, typical * 1000
    if not _SHORTEST_TYPICAL <= typical <= LONGEST_INTERVAL:
        raise UnreadableFile(
            f"Each line of the file holds one number, but {typical:g} ms is no usual RR interval",
            remedy="If these are heart rates, put the time of each before it: “2026-03-01T06:30:00Z,120”.",
        )
    return values
