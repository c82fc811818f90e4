"""Which column of a delimited text holds what: told by the athlete, else guessed from names and values."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import datetime

from trainlog.readers.errors import UnreadableFile


@dataclass(frozen=True)
class CsvColumns:
    """Columns of a text file, where its header alone does not say.

    Each is a name from the header or a number counted from 1; empty means "guess". The start serves
    any format whose own times count from an unknown instant or are wrong.

    Attributes
    ----------
    time, heart_rate, cadence, speed, power, altitude, rr, sport : str
        Columns. Only time, and heart rate or RR intervals, are needed.
    start : datetime, optional
        When the workout started, with a zone: elapsed time zero of a file that only counts from its
        start, or the first sample of a file whose clock was not set.
    """

    time: str = ""
    heart_rate: str = ""
    cadence: str = ""
    speed: str = ""
    power: str = ""
    altitude: str = ""
    rr: str = ""
    sport: str = ""
    start: datetime | None = None

    def __post_init__(self) -> None:
        if self.start is not None and self.start.utcoffset() is None:
            raise ValueError("the start of a text file needs a time zone")


@dataclass(frozen=True)
class Columns:
    """Index of each column that was found, and the header's names.

    Attributes
    ----------
    index : dict of str to int
        From "time", "heart_rate", … to the column's index, counted from 0.
    names : tuple of str
        Header as it stands; empty where the file has none.
    """

    index: dict[str, int]
    names: tuple[str, ...]

    def name(self, column: str) -> str:
        """Header of a column in lower case, empty where there is none."""
        return self.names[self.index[column]].lower() if self.names and column in self.index else ""


_NAMES = {
    "time": r"time|timestamp|date ?time|utc( time)?|time of day|elapsed( time)?|seconds?|secs?|s|t|"
    r"time (s|sec|seconds|ms|utc|local|unix)|unix( time)?|epoch( ms)?|milliseconds|ms|timestamp (s|ms|utc)|"
    r"elapsed( time)? (s|sec|seconds|ms)|date",
    "heart_rate": r"hr|bpm|heart ?rate|pulse|(hr|heart ?rate|pulse) (bpm|beats min|1 min)|beats per minute",
    "cadence": r"cad|cadence|(cad|cadence) (rpm|spm|1 min)|rpm|spm|steps per minute",
    "speed": r"speed|velocity|speed (m s|ms|km h|kmh|kph)|enhanced speed",
    "power": r"power|watts?|power (w|watts?)",
    "altitude": r"alt|altitude|ele|elevation|(alt|altitude|ele|elevation) m",
    "rr": r"rr|rri|r r|ibi|rr intervals?|(rr|rri|ibi|rr intervals?) (ms|s|sec)",
    "sport": r"sport|activity|activity type",
}


def find_columns(first_row: list[str], wanted: CsvColumns, second_row: list[str], line: int) -> Columns:
    """Columns of a text file.

    Parameters
    ----------
    first_row, second_row : list of str
        The first two rows that are no comments.
    wanted : CsvColumns
        What the athlete said.
    line : int
        Line of the first row, for messages.

    Returns
    -------
    Columns
        With "time", and "heart_rate" or "rr", at least.

    Raises
    ------
    UnreadableFile
        If one of these two cannot be told, or a column that was asked for does not exist.
    """
    names = tuple(cell.strip() for cell in first_row) if has_header(first_row) else ()
    index = _guess_by_name(names) if names else _guess_by_value(first_row, second_row)
    for column in _NAMES:
        said = getattr(wanted, column)
        if said:
            index[column] = _asked_for(said, names, len(first_row), line)
    for column, word in (("time", "time"), ("heart_rate", "heart rate")):
        if column not in index and not (column == "heart_rate" and "rr" in index):
            listed = ", ".join(names) or f"{len(first_row)} columns without names"
            raise UnreadableFile(
                f"No column of the file could be told to be {word} (found: {listed[:200]})",
                where=f"line {line}",
                remedy=f"Say which column holds {word}, or name it in the first line of the file.",
                asks_for="columns",
            )
    return Columns(index, names)


def has_header(first_row: list[str]) -> bool:
    """Whether the first row names the columns: none of its cells is a number or a time."""
    return not any(_is_number(cell) or _is_clock(cell) for cell in first_row)


def _guess_by_name(names: tuple[str, ...]) -> dict[str, int]:
    plain = [" ".join(re.sub(r"[^a-z0-9]+", " ", name.lower()).split()) for name in names]
    index: dict[str, int] = {}
    for column, pattern in _NAMES.items():
        matches = [i for i, name in enumerate(plain) if re.fullmatch(pattern, name)]
        if matches:
            index[column] = matches[0]
    if "time" in index and plain[index["time"]] == "date":
        clock = [i for i, name in enumerate(plain) if name == "time"]
        index["time"] = clock[0] if clock else index["time"]
    if "date" in plain and plain[index.get("time", 0)] != "date":
        index["date"] = plain.index("date")
    return index


def _guess_by_value(first_row: list[str], second_row: list[str]) -> dict[str, int]:
    """Two columns without names: a time that grows, and a heart rate."""
    if len(first_row) != 2 or not (_is_number(first_row[0]) or _is_clock(first_row[0])):
        return {}
    rate = (second_row or first_row)[-1]
    return {"time": 0, "heart_rate": 1} if _is_number(rate) or not rate.strip() else {}


def _asked_for(said: str, names: tuple[str, ...], width: int, line: int) -> int:
    lower = [name.lower() for name in names]
    if said.strip().lower() in lower:
        return lower.index(said.strip().lower())
    if said.strip().isdecimal() and 1 <= int(said) <= width:
        return int(said) - 1
    raise UnreadableFile(
        f"The file has no column “{said}”",
        where=f"line {line}",
        remedy=f"Choose one of: {', '.join(names)[:200]}."
        if names
        else f"Choose a number from 1 to {width}.",
        asks_for="columns",
    )


def _is_number(cell: str) -> bool:
    try:
        float(cell.replace(",", "."))
    except ValueError:
        return False
    return True


def _is_clock(cell: str) -> bool:
    return bool(re.match(r"\s*(\d+:\d\d|\d{4}-\d\d-\d\d)", cell))
