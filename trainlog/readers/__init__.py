"""From the bytes of a file to a ``Reading``; the format is told from the bytes, never from the name."""

from __future__ import annotations

from datetime import datetime
from zoneinfo import ZoneInfo

from trainlog.readers import bluetooth_log, delimited, fit, gpx, rr_text
from trainlog.readers.archive import is_packed, unpack
from trainlog.readers.checks import refuse_empty, to_reading
from trainlog.readers.delimited_columns import CsvColumns
from trainlog.readers.errors import UnreadableFile
from trainlog.readers.fit_structure import SIGNATURE
from trainlog.readers.reading import Clock, Reading, Segment
from trainlog.readers.samples import Samples
from trainlog.readers.text import lines_of

__all__ = ["Clock", "CsvColumns", "Reading", "Segment", "UnreadableFile", "layout_key", "read", "unpack"]

UTC_ZONE = ZoneInfo("UTC")

_BYTE_ORDER_MARKS = (b"\xef\xbb\xbf", b"\xff\xfe", b"\xfe\xff")


def read(
    data: bytes,
    *,
    now: datetime,
    keep_positions: bool = False,
    csv_columns: CsvColumns | None = None,
    time_zone: ZoneInfo = UTC_ZONE,
) -> Reading:
    """Read a training file, whatever its format.

    An archive is refused: it may hold several recordings, so ``unpack`` takes it apart before, and
    what is still packed then lay in an archive inside an archive.

    Parameters
    ----------
    data : bytes
        The whole file.
    now : datetime
        The present instant, with a zone; a workout that starts more than a day later is refused.
    keep_positions : bool
        Whether the trace gets latitude and longitude.
    csv_columns : CsvColumns, optional
        What the athlete says of the file: which columns of a text hold what, where its header does
        not say, and, for any format, when it starts. A start that is told goes before the file's own.
    time_zone : ZoneInfo
        Zone of times in text files that name none.

    Returns
    -------
    Reading
        With a note for everything that was repaired, guessed or left out.

    Raises
    ------
    UnreadableFile
        On any bytes that cannot become a trace; nothing else is raised.
    """
    refuse_empty(data)
    told = csv_columns or CsvColumns()
    try:
        return to_reading(_decode(data, keep_positions, told, time_zone), now, told.start)
    except UnreadableFile:
        raise
    except Exception as error:
        raise UnreadableFile(
            "The file is damaged in a way that stopped the reader",
            remedy="Copy it from the device again; if it fails again, please report it with the file.",
        ) from error


def layout_key(data: bytes) -> str:
    """Key under which to remember what the athlete said of the columns of a text file.

    Parameters
    ----------
    data : bytes
        The whole file.

    Returns
    -------
    str
        The same for every file with the same separator and names of columns; empty for a file whose
        columns need no telling, whatever it is.
    """
    if data[8:12] == SIGNATURE or is_packed(data) or _looks_like_xml(data):
        return ""
    try:
        lines = lines_of(data)
    except UnreadableFile:
        return ""
    if bluetooth_log.is_bluetooth_log(lines) or rr_text.is_rr_text(lines) or not delimited.is_table(lines):
        return ""
    return delimited.layout_key(lines)


def _decode(data: bytes, keep_positions: bool, told: CsvColumns, time_zone: ZoneInfo) -> Samples:
    if data[8:12] == SIGNATURE:
        return fit.decode(data, keep_positions=keep_positions)
    if is_packed(data):
        raise UnreadableFile(
            "This is a packed archive, not a training file",
            remedy="Unpack it and import the files inside, or pack them into one zip with no archives in it.",
        )
    if _looks_like_xml(data):
        return gpx.decode(data, keep_positions=keep_positions)
    lines = lines_of(data)
    if not (told.time or told.heart_rate):
        if bluetooth_log.is_bluetooth_log(lines):
            return bluetooth_log.decode(lines, start=told.start, time_zone=time_zone)
        if rr_text.is_rr_text(lines):
            return rr_text.decode(lines, start=told.start, time_zone=time_zone)
    return delimited.decode(lines, columns=told, time_zone=time_zone)


def _looks_like_xml(data: bytes) -> bool:
    head = data[:200]
    for mark in _BYTE_ORDER_MARKS:
        head = head.removeprefix(mark)
    return head.replace(b"\0", b"").lstrip().startswith(b"<")
