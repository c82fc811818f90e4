"""What all text formats share: bytes to lines, comment lines, and instants.

Lines that start with ``#`` may say ``# start: 2026-03-01T06:30:00Z``, ``# device: text`` and
``# sport: run``.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

from trainlog.readers.checks import refuse_too_many_samples
from trainlog.readers.errors import UnreadableFile

LARGEST_TEXT = 32 * 2**20
"""Bytes; two days at one row a second with twenty columns stay below."""

LONGEST_LINE = 100_000
"""Characters; a longer line is no row of a recording."""

_ENCODINGS = ((b"\xef\xbb\xbf", "utf-8-sig"), (b"\xff\xfe", "utf-16"), (b"\xfe\xff", "utf-16"))
_COMMENT = re.compile(r"#\s*([A-Za-z_ ]{1,30}?)\s*[:=]\s*(.*\S)")
_LINE_END = re.compile("\r\n|\r|\n")
_CONTROLS = re.compile("[\x01-\x08\x0e-\x1f\x7f]")


@dataclass(frozen=True)
class Lines:
    """Lines of a text.

    Attributes
    ----------
    rows : list of str
        Lines that are neither blank nor comments.
    numbers : list of int
        The line of the file on which each of them stands.
    said : dict of str to str
        What the comments say, by lower-case word.
    notes : list of str
        What was assumed about the text.
    """

    rows: list[str]
    numbers: list[int]
    said: dict[str, str]
    notes: list[str]

    def start(self, time_zone: ZoneInfo) -> datetime | None:
        """Start that a comment gives, in the zone where it names none.

        Raises
        ------
        UnreadableFile
            If the comment gives something else.
        """
        if "start" not in self.said:
            return None
        start = instant(self.said["start"], time_zone)
        if start is None:
            raise UnreadableFile(
                f"The start “{self.said['start'][:40]}” is no date and time",
                remedy="Write it as “# start: 2026-03-01T06:30:00Z”.",
            )
        return start

    def device(self) -> str:
        """Device that a comment gives, on one line; empty where none does."""
        return " ".join(self.said.get("device", "").split())[:200]

    def sport(self) -> str:
        """Sport that a comment gives, in lower case; empty where none does."""
        return self.said.get("sport", "").strip().lower()[:200]


def lines_of(data: bytes) -> Lines:
    """Lines of a text in UTF-8, UTF-16 with a byte-order mark, or else Latin-1.

    Parameters
    ----------
    data : bytes
        The whole file.

    Returns
    -------
    Lines
        With at least one row.

    Raises
    ------
    UnreadableFile
        If this is no text, has no rows, or is larger than any recording.
    """
    if len(data) > LARGEST_TEXT:
        raise UnreadableFile(
            f"The text is larger than {LARGEST_TEXT // 2**20} MB, which no single workout is",
            remedy="Split it into one file for each workout.",
        )
    refuse_too_many_samples(data.count(b"\n"))
    refuse_too_many_samples(data.count(b"\r"))
    notes: list[str] = []
    text = _text(data, notes)
    said: dict[str, str] = {}
    rows, numbers = [], []
    for number, line in enumerate(_LINE_END.split(text), start=1):
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
            rows.append(line)
            numbers.append(number)
    if not rows:
        raise UnreadableFile("The file has no rows", remedy="Export the workout again.")
    return Lines(rows, numbers, said, notes)


def instant(text: str, time_zone: ZoneInfo) -> datetime | None:
    """Instant of an ISO 8601 text, in the given zone if it names none; None if it is not one."""
    try:
        moment = datetime.fromisoformat(text.strip())
        return (moment if moment.tzinfo else moment.replace(tzinfo=time_zone)).astimezone(UTC)
    except (ValueError, OverflowError):
        return None


def _text(data: bytes, notes: list[str]) -> str:
    encoding = next((name for mark, name in _ENCODINGS if data.startswith(mark)), "utf-8")
    try:
        text = data.decode(encoding)
    except UnicodeDecodeError as error:
        if encoding != "utf-8" or b"\0" in data:
            raise _no_text() from error
        text = data.decode("latin-1")
        notes.append("The text is not UTF-8 and was read as Latin-1.")
    controls = sum(1 for _ in _CONTROLS.finditer(text))
    if "\0" in text or controls > len(text) / 100:
        raise _no_text()
    return text


def _no_text() -> UnreadableFile:
    return UnreadableFile(
        "This is no training file the log knows: neither FIT, GPX nor text with times and heart rates",
        remedy="Export the workout as FIT, GPX or text with a time and a heart rate in each row.",
    )
