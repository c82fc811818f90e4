"""Messages of one FIT part, decoded the fast way or, where it is damaged, salvaged."""

from __future__ import annotations

import struct
from collections import defaultdict
from dataclasses import dataclass, field
from typing import Any

import fitdecode
import fitfast
import numpy as np

from trainlog.readers.fit_structure import SIGNATURE, Part
from trainlog.trace import FloatArray

EPOCH = 631065600.0
"""Unix time of the format's epoch, 1989-12-31T00:00:00Z."""

_DEGREES_PER_SEMICIRCLE = 180 / 2**31
_CLOCK_FIELDS = ("timestamp", "start_time", "time_created")
_POSITIONS = ("position_lat", "position_long")
_KINDS = ("file_id", "record", "session", "device_info")

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
    rr : list of (int, sequence of float)
        For each message of RR intervals, how many records come before it, and its intervals in seconds.
    """

    file_id: Table = field(default_factory=dict)
    record: Table = field(default_factory=dict)
    session: Table = field(default_factory=dict)
    device_info: Table = field(default_factory=dict)
    hr: list[dict[Any, Any]] = field(default_factory=list)
    rr: list[tuple[int, Any]] = field(default_factory=list)


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
    try:
        tables = {kind: fitfast.records(part.data, kind) for kind in _KINDS}
        kinds = fitfast.message_counts(part.data)
        arrays = fitfast.parse(part.data) if kinds.keys() & {"hr", "hrv"} else {}
    except (KeyboardInterrupt, SystemExit):
        raise
    except BaseException:  # the decoder's panic is no Exception; whatever it was, salvage comes next
        return None
    intervals = [message.get("time", ()) for message in arrays.get("hrv", [])]
    if len(intervals) != len(part.records_before_rr):
        intervals = []
    return Contents(
        **tables,
        hr=arrays.get("hr", []),
        rr=list(zip(part.records_before_rr, intervals, strict=True)) if intervals else [],
    )


def salvage(part: Part) -> Contents:
    """Messages of a damaged part up to the damage.

    Parameters
    ----------
    part : Part
        As ``fit_structure.split`` found it.

    Returns
    -------
    Contents
        Possibly without any message.
    """
    rows: dict[str, list[dict[str, Any]]] = defaultdict(list)
    rr: list[tuple[int, Any]] = []
    reader = fitdecode.FitReader(
        _with_new_header(part.messages()),
        processor=None,
        check_crc=fitdecode.CrcCheck.DISABLED,
        error_handling=fitdecode.ErrorHandling.IGNORE,
    )
    try:
        for frame in reader:
            if not isinstance(frame, fitdecode.FitDataMessage):
                continue
            if frame.name == "hrv":
                rr.append((len(rows["record"]), _values(frame).get("time", ())))
            elif frame.name == "hr" or frame.name in _KINDS:
                rows[frame.name].append(_values(frame))
    except Exception:  # the decoder leaks many kinds on damage; what it read until then counts
        pass
    finally:
        reader.close()
    return Contents(**{kind: _table(rows[kind]) for kind in _KINDS}, hr=rows["hr"], rr=rr)


def _with_new_header(messages: bytes) -> bytes:
    return struct.pack("<BBHI4s", 12, 0x20, 2132, len(messages), SIGNATURE) + messages + b"\0\0"


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


def _table(rows: list[dict[str, Any]]) -> Table:
    names = {name for row in rows for name, value in row.items() if isinstance(value, (int, float))}
    return {
        name: np.array([v if isinstance(v := row.get(name), (int, float)) else np.nan for row in rows], float)
        for name in names
    }
