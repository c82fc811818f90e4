"""Times of a delimited text as Unix seconds: dates, Unix time, or time elapsed since a known start."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from trainlog.readers.errors import UnreadableFile
from trainlog.trace import FloatArray

_UNIX_SECONDS_FROM, _UNIX_MILLISECONDS_FROM = 1e8, 1e11
"""A number from here on is Unix time: 1e8 s is the year 1973, 1e11 ms likewise."""

_LARGEST_SHARE_UNREADABLE = 0.02
_CLOCK = re.compile(r"(?:(\d{1,3}):)?(\d{1,4}):(\d{1,2}(?:\.\d+)?)")


def to_unix_seconds(
    cells: list[str], lines: list[int], *, in_milliseconds: bool, start: datetime | None, time_zone: ZoneInfo
) -> tuple[FloatArray, list[str]]:
    """Unix seconds of a column of times.

    Parameters
    ----------
    cells : list of str
        Times as the file writes them, all of one kind: ISO 8601, Unix seconds or milliseconds,
        elapsed seconds or milliseconds, or elapsed m:ss or h:mm:ss.
    lines : list of int
        Line of each cell, for messages.
    in_milliseconds : bool
        Whether the header says that small numbers are milliseconds.
    start : datetime, optional
        Instant of elapsed time zero, with a zone.
    time_zone : ZoneInfo
        Zone of dates that name none.

    Returns
    -------
    times : array, shape (cells,)
        NaN where a cell is empty or cannot be read.
    notes : list of str
        What was assumed.

    Raises
    ------
    UnreadableFile
        If times are elapsed and no start is known, or more than 2% cannot be read.
    """
    first = next((cell.strip() for cell in cells if cell.strip()), "")
    notes: list[str] = []
    if _number(first) is not None:
        times = np.array([_number(cell, np.nan) for cell in cells], float)
        unit, elapsed = _unit(float(_number(first) or 0.0), in_milliseconds)
        times = times / unit
    elif _CLOCK.fullmatch(first.replace(",", ".")):
        times, elapsed = np.array([_clock(cell) for cell in cells], float), True
    else:
        times, elapsed = _dates(cells, time_zone, notes), False
    _refuse_many_unreadable(times, cells, lines, notes)
    if elapsed:
        if start is None:
            raise UnreadableFile(
                "The times only count from the start of the recording, and the file does not say when it was",
                remedy="Enter the start of the workout, or add a first line such as "
                "“# start: 2026-03-01T06:30:00Z”.",
            )
        times = times + start.timestamp()
    return times, notes


def instant(text: str, time_zone: ZoneInfo) -> datetime | None:
    """Instant of an ISO 8601 text, in the given zone if it names none; None if it is not one."""
    try:
        moment = datetime.fromisoformat(text.strip())
        return (moment if moment.tzinfo else moment.replace(tzinfo=time_zone)).astimezone(UTC)
    except (ValueError, OverflowError):
        return None


def _unit(value: float, in_milliseconds: bool) -> tuple[float, bool]:
    """Units a second, and whether the numbers count from the start of the recording."""
    if abs(value) >= _UNIX_MILLISECONDS_FROM:
        return 1000.0, False
    if abs(value) >= _UNIX_SECONDS_FROM:
        return 1.0, False
    return (1000.0 if in_milliseconds else 1.0), True


def _dates(cells: list[str], time_zone: ZoneInfo, notes: list[str]) -> FloatArray:
    """Unix seconds of ISO dates; in the hour that a zone repeats, times keep running forwards."""
    times = np.full(len(cells), np.nan)
    before, without_zone = -np.inf, False
    for row, cell in enumerate(cells):
        try:
            moment = datetime.fromisoformat(cell.strip())
            if moment.tzinfo is None:
                without_zone = True
                moment = moment.replace(tzinfo=time_zone)
                if moment.timestamp() < before - 1800:
                    moment = moment.replace(fold=1)
            times[row] = before = moment.timestamp()
        except (ValueError, OverflowError):
            continue
    if without_zone:
        notes.append(f"Times without a time zone were taken as {time_zone.key}.")
    return times


def _clock(cell: str) -> float:
    match = _CLOCK.fullmatch(cell.strip().replace(",", "."))
    if not match:
        return np.nan
    hours, minutes, seconds = match.groups()
    return timedelta(hours=int(hours or 0), minutes=int(minutes), seconds=float(seconds)).total_seconds()


def _number(cell: str, otherwise: float | None = None) -> float | None:
    try:
        return float(cell.strip().replace(",", "."))
    except ValueError:
        return otherwise


def _refuse_many_unreadable(times: FloatArray, cells: list[str], lines: list[int], notes: list[str]) -> None:
    bad = [row for row in np.flatnonzero(~np.isfinite(times)) if cells[row].strip()]
    if not bad:
        return
    where = f"line {lines[bad[0]]}"
    if len(bad) > _LARGEST_SHARE_UNREADABLE * len(cells):
        raise UnreadableFile(
            f"{len(bad):,} of {len(cells):,} times cannot be read, such as “{cells[bad[0]].strip()[:40]}”",
            where=where,
            remedy="Write times as 2026-03-01T06:30:00Z, as Unix seconds, or as seconds since the start.",
        )
    notes.append(f"{len(bad):,} rows with an unreadable time were left out, the first in {where}.")
