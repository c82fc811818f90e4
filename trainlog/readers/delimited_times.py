"""Times of a delimited text as Unix seconds: dates, Unix time, or time elapsed since a known start."""

from __future__ import annotations

import re
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from trainlog.readers.errors import UnreadableFile
from trainlog.trace import FloatArray

_UNIX_SECONDS_FROM, _UNIX_MILLISECONDS_FROM = 1e8, 1e11
"""A number from here on is Unix time: 1e8 s is the year 1973, 1e11 ms likewise."""

_LARGEST_SHARE_UNREADABLE = 0.02
_LOCAL_EPOCH = datetime(1970, 1, 1)
_QUARTER = 900.0
_CLOCK_CHANGE = 1500.0
"""Seconds back by which clocks that change show it; some zones change by half an hour only."""

_CLOCK = re.compile(r"(?:(\d{1,3}):)?(\d{1,4}):(\d{1,2}(?:\.\d+)?)")


def to_unix_seconds(
    cells: list[str], lines: list[int], *, in_milliseconds: bool, start: datetime | None, time_zone: ZoneInfo
) -> tuple[FloatArray, list[str], bool]:
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
    elapsed : bool
        Whether the times counted from the start.

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
                asks_for="start",
            )
        times = times + start.timestamp()
    return times, notes, elapsed


def _unit(value: float, in_milliseconds: bool) -> tuple[float, bool]:
    """Units a second, and whether the numbers count from the start of the recording."""
    if abs(value) >= _UNIX_MILLISECONDS_FROM:
        return 1000.0, False
    if abs(value) >= _UNIX_SECONDS_FROM:
        return 1.0, False
    return (1000.0 if in_milliseconds else 1.0), True


def _dates(cells: list[str], time_zone: ZoneInfo, notes: list[str]) -> FloatArray:
    """Unix seconds of ISO dates.

    In the hour that a zone repeats in autumn, a local time means its first pass, unless times would
    then run backwards, or would jump as the hour ends while the clock on the wall ran on.
    """
    times = np.full(len(cells), np.nan)
    local: list[tuple[int, datetime]] = []
    for row, cell in enumerate(cells):
        try:
            moment = datetime.fromisoformat(cell)
            if moment.tzinfo is None:
                local.append((row, moment))
            else:
                times[row] = moment.timestamp()
        except (ValueError, OverflowError):
            continue
    if local:
        rows = [row for row, _ in local]
        times[rows] = _local_times([moment for _, moment in local], time_zone, notes)
    return times


def _local_times(moments: list[datetime], time_zone: ZoneInfo, notes: list[str]) -> FloatArray:
    notes.append(f"Times without a time zone were taken as {time_zone.key}.")
    wall = np.array([(moment - _LOCAL_EPOCH).total_seconds() for moment in moments])
    quarters, place = np.unique(wall // _QUARTER, return_inverse=True)
    offsets = np.array([_offsets(quarter * _QUARTER, time_zone) for quarter in quarters.tolist()])[place]
    first, second = wall - offsets[:, 0], wall - offsets[:, 1]
    repeated = second > first
    if not repeated.any():
        return first
    back = np.flatnonzero((np.diff(wall) < -_CLOCK_CHANGE) & repeated[1:])
    passed = np.zeros(len(wall), bool)
    if len(back):
        passed[back[0] + 1 :] = True
    elif (jumps := np.flatnonzero(repeated[:-1] & ~repeated[1:])).size:
        came_from_before = np.flatnonzero(repeated)[0] > 0
        passed[: jumps[0] + 1] = not came_from_before
    if not len(back) and not passed.any() and repeated.all():
        notes.append(
            "The clocks went back during this workout, so its hour came twice; the first was assumed."
        )
    return np.where(repeated & passed, second, first)


def _offsets(wall: float, zone: ZoneInfo) -> tuple[float, float]:
    """Seconds by which a zone is ahead of UTC at a local time, for its first and second pass."""
    moment = (_LOCAL_EPOCH + timedelta(seconds=wall)).replace(tzinfo=zone)
    first, second = (moment.replace(fold=fold).utcoffset() or timedelta() for fold in (0, 1))
    return first.total_seconds(), second.total_seconds()


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
            asks_for="columns",
        )
    notes.append(f"{len(bad):,} rows with an unreadable time were left out, the first in {where}.")
