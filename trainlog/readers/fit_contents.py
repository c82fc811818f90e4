"""Messages of one FIT part, decoded the fast way or, where it is damaged, salvaged."""

from __future__ import annotations

import re
import struct
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import fitdecode
import fitfast
import numpy as np
from numpy.typing import NDArray

from trainlog.readers.fit_checksum import checksum
from trainlog.readers.fit_structure import SIGNATURE, Part
from trainlog.trace import FloatArray

EPOCH = 631065600.0
"""Unix time of the format's epoch, 1989-12-31T00:00:00Z."""

MOST_SALVAGED = 500_000
"""Fields that the slow decoder reads of one part; it takes some six seconds for a million."""

DEVELOPER = "~"
"""What replaces the first letter of developer fields' names where one is also the format's own."""

_DEGREES_PER_SEMICIRCLE = 180 / 2**31
_CLOCK_FIELDS = ("timestamp", "start_time", "time_created")
_POSITIONS = ("position_lat", "position_long")
_KINDS = ("file_id", "record", "session", "device_info")
_OWN_NAMES = (
    *("timestamp", "heart_rate", "cadence", "fractional_cadence", "speed", "enhanced_speed", "power"),
    *("altitude", "enhanced_altitude", *_POSITIONS),
)
_HEART_RATE_NAMES = ("heartrate", "hr", "heartratebpm", "hrbpm")
_HEADER = struct.Struct("<BBHI4s")

Table = dict[str, FloatArray]
"""Columns of the messages of one kind, by field name; NaN where a message has no such field."""


@dataclass(eq=False)
class Contents:
    """What the log reads of one part; times in Unix seconds.

    Attributes
    ----------
    file_id, record, session, device_info : Table
        Numeric fields of each kind of message.
    hr : list of dict
        ``hr`` messages: fields by name, arrays as sequences.
    records_before_rr : array of int, shape (messages of RR intervals,)
        How many records come before each.
    rr_ms : sequence of array, each of shape (messages, intervals a message)
        RR intervals in milliseconds, without meaning where a place is empty.
    developer_heart_rate : array, optional
        Column of the records that a developer field named as heart rate gives.
    complete : bool
        Whether the salvage came to the end of what is sound.
    """

    file_id: Table = field(default_factory=dict)
    record: Table = field(default_factory=dict)
    session: Table = field(default_factory=dict)
    device_info: Table = field(default_factory=dict)
    hr: list[dict[Any, Any]] = field(default_factory=list)
    records_before_rr: NDArray[np.int64] = field(default_factory=lambda: np.empty(0, np.int64))
    rr_ms: Sequence[NDArray[Any]] = ()
    developer_heart_rate: FloatArray | None = None
    complete: bool = True


def decode(part: Part) -> Contents | None:
    """Messages of an undamaged part.

    Parameters
    ----------
    part : Part
        As ``fit_structure.split`` found it.

    Returns
    -------
    Contents or None
        None if the part is damaged in any way, its checksum included.
    """
    if part.cut_short or not part.ends_soundly:
        return None
    return _decode_fast(part, part.data)


def salvage(part: Part) -> Contents:
    """Messages of a damaged part up to the damage.

    What follows the format is given a new header and checksum and decoded the fast way; where that
    fails, by a slower decoder that keeps what it read before the failure.

    Parameters
    ----------
    part : Part
        As ``fit_structure.split`` found it.

    Returns
    -------
    Contents
        Possibly without any message.
    """
    sound = part.sound_messages()
    shift = _HEADER.size - part.header
    found = _decode_fast(part, _framed(sound), shift) if sound else None
    return found or _salvage_slowly(part)


def _decode_fast(part: Part, file: bytes, shift: int = 0) -> Contents | None:
    """Messages by the fast decoder; ``shift`` is by how much the file's messages moved in the part."""
    try:
        if part.besides_samples is None:
            others = fitfast.parse(file, enum_names=False)
        else:
            others = fitfast.parse(_framed(part.besides_samples), enum_names=False)
        names = [str(row.get("field_name", "")) for row in others.get("field_description", [])]
        columns = names
        if any(name in _OWN_NAMES for name in names):
            file = _with_marked_names(file, [place + shift for place in part.names])
            columns = [DEVELOPER + name[1:] for name in names]
        record = fitfast.records(file)
    except (KeyboardInterrupt, SystemExit):
        raise
    except BaseException:  # the decoder's panic is no Exception; whatever it was, salvage comes next
        return None
    intervals: Sequence[NDArray[Any]] = part.rr_ms
    if part.besides_samples is None:
        intervals = [_rr_row(message.get("time", ())) for message in others.get("hrv", [])]
    before = part.records_before_rr
    if sum(map(len, intervals)) != len(before):
        before, intervals = before[:0], ()
    developer = next(
        (
            record[column]
            for name, column in zip(names, columns, strict=True)
            if _means_heart_rate(name) and column in record
        ),
        None,
    )
    return Contents(
        record=record,
        file_id=_table(others.get("file_id", [])),
        session=_table(others.get("session", [])),
        device_info=_table(others.get("device_info", [])),
        hr=others.get("hr", []),
        records_before_rr=before,
        rr_ms=intervals,
        developer_heart_rate=developer,
    )


def _means_heart_rate(name: str) -> bool:
    return re.sub(r"[^a-z]+", "", name.lower()) in _HEART_RATE_NAMES


def _with_marked_names(file: bytes, places: list[int]) -> bytes:
    """Mark the names of all developer fields, lest one of them hide a field of the format's own."""
    marked = bytearray(file)
    for place in places:
        if 0 < marked[place] < 0x80:
            marked[place] = ord(DEVELOPER)
    return bytes(marked[:-2]) + struct.pack("<H", checksum(bytes(marked[:-2])))


def _salvage_slowly(part: Part) -> Contents:
    rows: dict[str, list[dict[str, Any]]] = defaultdict(list)
    before: list[int] = []
    rr_ms: list[NDArray[Any]] = []
    values = 0
    reader = fitdecode.FitReader(
        _framed(part.messages()),
        processor=None,
        check_crc=fitdecode.CrcCheck.DISABLED,
        error_handling=fitdecode.ErrorHandling.IGNORE,
    )
    try:
        for frame in reader:
            if not isinstance(frame, fitdecode.FitDataMessage):
                continue
            values += len(frame.fields) + 1
            if values > MOST_SALVAGED:
                break
            if frame.name == "hrv":
                before.append(len(rows["record"]))
                rr_ms.append(_rr_row(_values(frame).get("time", ())))
            elif frame.name == "hr" or frame.name in _KINDS:
                rows[frame.name].append(_values(frame))
    except Exception:  # the decoder leaks many kinds on damage; what it read until then counts
        pass
    finally:
        reader.close()
    return Contents(
        record=_table(rows["record"]),
        file_id=_table(rows["file_id"]),
        session=_table(rows["session"]),
        device_info=_table(rows["device_info"]),
        hr=rows["hr"],
        records_before_rr=np.array(before, np.int64),
        rr_ms=rr_ms,
        complete=values <= MOST_SALVAGED,
    )


def _rr_row(seconds: Any) -> FloatArray:
    """Intervals of one message in milliseconds, shape (1, intervals)."""
    values = seconds if isinstance(seconds, (list, tuple)) else (seconds,)
    return np.array([[1000 * value for value in values if isinstance(value, (int, float))]], float)


def _framed(messages: bytes) -> bytes:
    """Put a header and a checksum around messages."""
    body = _HEADER.pack(_HEADER.size, 0x20, 2132, len(messages), SIGNATURE) + messages
    return body + struct.pack("<H", checksum(body))


def _values(message: Any) -> dict[str, Any]:
    """Numbers of a message by field name: scaled where the format scales, codes rather than words."""
    values: dict[str, Any] = {}
    for item in message.fields:
        if item.field_def is not None and item.field_def.is_dev:
            continue
        name = item.parent_field.name if item.parent_field else item.name
        value = item.value if isinstance(item.value, (int, float, tuple)) else item.raw_value
        if value is None or name in values:
            continue
        values[str(name)] = value
    for name in _CLOCK_FIELDS:
        if isinstance(values.get(name), int):
            values[name] += EPOCH
    for name in _POSITIONS:
        if isinstance(values.get(name), int):
            values[name] *= _DEGREES_PER_SEMICIRCLE
    return values


def _table(rows: list[dict[Any, Any]]) -> Table:
    names = {name for row in rows for name, value in row.items() if isinstance(value, (int, float))}
    return {
        str(name): np.array(
            [v if isinstance(v := row.get(name), (int, float)) else np.nan for row in rows], float
        )
        for name in names
    }
