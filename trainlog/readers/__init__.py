"""From the bytes of a file to a ``Reading``; the format is told from the bytes, never from the name."""

from __future__ import annotations

from datetime import datetime
from zoneinfo import ZoneInfo

from trainlog.readers import delimited, fit, gpx
from trainlog.readers.checks import refuse_empty, to_reading
from trainlog.readers.delimited_columns import CsvColumns
from trainlog.readers.errors import UnreadableFile
from trainlog.readers.fit_structure import SIGNATURE
from trainlog.readers.reading import Clock, Reading, Segment
from trainlog.readers.samples import Samples

__all__ = ["Clock", "CsvColumns", "Reading", "Segment", "UnreadableFile", "read"]

UTC_ZONE = ZoneInfo("UTC")

_PACKED = (b"PK\x03\x04", b"\x1f\x8b", b"BZh", b"\xfd7zXZ", b"7z\xbc\xaf", b"\x28\xb5\x2f\xfd", b"Rar!")
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

    Parameters
    ----------
    data : bytes
        The whole file.
    now : datetime
        The present instant, with a zone; a workout that starts more than a day later is refused.
    keep_positions : bool
        Whether the trace gets latitude and longitude.
    csv_columns : CsvColumns, optional
        Which columns of a text file hold what, where its header does not say.
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
    try:
        return to_reading(_decode(data, keep_positions, csv_columns, time_zone), now)
    except UnreadableFile:
        raise
    except Exception as error:
        raise UnreadableFile(
            "The file is damaged in a way that stopped the reader",
            remedy="Copy it from the device again; if it fails again, please report it with the file.",
        ) from error


def _decode(
    data: bytes, keep_positions: bool, csv_columns: CsvColumns | None, time_zone: ZoneInfo
) -> Samples:
    if data[8:12] == SIGNATURE:
        return fit.decode(data, keep_positions=keep_positions)
    if data.startswith(_PACKED):
        raise UnreadableFile(
            "This is a packed archive, not a training file", remedy="Unpack it and import the files inside."
        )
    if _looks_like_xml(data):
        return gpx.decode(data, keep_positions=keep_positions)
    return delimited.decode(data, columns=csv_columns or CsvColumns(), time_zone=time_zone)


def _looks_like_xml(data: bytes) -> bool:
    head = data[:200]
    for mark in _BYTE_ORDER_MARKS:
        head = head.removeprefix(mark)
    return head.replace(b"\0", b"").lstrip().startswith(b"<")
