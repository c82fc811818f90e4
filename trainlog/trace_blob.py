"""A trace as one compact versioned block of bytes, for keeping in the database.

Layout, little-endian: a header (magic, version, flags, seconds, start, length of the heart-rate
field, number of further fields, number of beats), the heart-rate field, a table of further fields,
and those fields. Each field is the signal in whole steps, as differences from second to second,
split into byte planes and compressed. Heart rate comes first so that it can be read alone.
"""

from __future__ import annotations

import struct
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
import zstandard
from numpy.typing import NDArray

from trainlog.trace import CHANNELS, FloatArray, Trace

MAGIC = b"TRCE"
VERSION = 1

STEPS = {
    "heart_rate": 0.1,
    "cadence": 0.1,
    "speed": 0.001,
    "power": 0.1,
    "altitude": 0.1,
    "latitude": 1e-7,
    "longitude": 1e-7,
    "rr_seconds": 0.001,
    "rr_ms": 0.1,
}
"""Step to which each field is kept, in the unit of its channel; a value comes back rounded to it."""

_FIELDS = (*CHANNELS, "rr_seconds", "rr_ms")
_HEADER = struct.Struct("<4sBBIqIBI")
_FIELD = struct.Struct("<BI")
_LEVEL = 6
_LARGEST_CODE = 2**31 - 2
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


def pack(trace: Trace) -> bytes:
    """Bytes of a trace, from which ``unpack`` makes it again.

    Parameters
    ----------
    trace : Trace
        Any trace; NaN stays NaN.

    Returns
    -------
    bytes
        One to two kilobytes for an hour of heart rate alone.

    Raises
    ------
    ValueError
        If a value is infinite or too large to be a signal of its channel.
    """
    heart_rate = _pack_field("heart_rate", trace.heart_rate)
    further = {name: _pack_field(name, values) for name, values in sorted(trace.others.items())}
    if len(trace.rr_ms):
        further["rr_seconds"] = _pack_field("rr_seconds", trace.rr_seconds)
        further["rr_ms"] = _pack_field("rr_ms", trace.rr_ms)
    start = int((trace.start - _EPOCH).total_seconds())
    header = _HEADER.pack(
        MAGIC, VERSION, 0, trace.seconds, start, len(heart_rate), len(further), len(trace.rr_ms)
    )
    table = b"".join(_FIELD.pack(_FIELDS.index(name), len(field)) for name, field in further.items())
    return b"".join([header, heart_rate, table, *further.values()])


def unpack(blob: bytes) -> Trace:
    """Trace that was packed, each value to the step of its channel.

    Parameters
    ----------
    blob : bytes
        What ``pack`` returned.

    Returns
    -------
    Trace
        With the start, the channels and the RR intervals of the packed one.

    Raises
    ------
    ValueError
        If the bytes are no packed trace, are damaged, or have a version this code does not know.
    """
    seconds, start, heart_rate_length, fields, beats = _header(blob)
    place = _HEADER.size + heart_rate_length
    heart_rate = _unpack_field("heart_rate", blob[_HEADER.size : place], seconds)
    if len(blob) < place + fields * _FIELD.size:
        raise ValueError("a packed trace that is cut short")
    table = [_FIELD.unpack_from(blob, place + i * _FIELD.size) for i in range(fields)]
    place += fields * _FIELD.size
    further: dict[str, FloatArray] = {}
    for number, length in table:
        if number >= len(_FIELDS):
            raise ValueError(f"a packed trace with an unknown field {number}")
        name = _FIELDS[number]
        count = beats if name.startswith("rr_") else seconds
        further[name] = _unpack_field(name, blob[place : place + length], count)
        place += length
    return Trace(
        start=_EPOCH + timedelta(seconds=start),
        heart_rate=heart_rate,
        rr_seconds=further.pop("rr_seconds", np.empty(0)),
        rr_ms=further.pop("rr_ms", np.empty(0)),
        others=further,
    )


def unpack_heart_rate(blob: bytes) -> FloatArray:
    """Heart rate of a packed trace, without touching its other fields.

    Parameters
    ----------
    blob : bytes
        What ``pack`` returned.

    Returns
    -------
    array, shape (seconds,)
        Heart rate in bpm to a tenth, NaN where nothing was recorded.

    Raises
    ------
    ValueError
        As for ``unpack``.
    """
    seconds, _, length, _, _ = _header(blob)
    return _unpack_field("heart_rate", blob[_HEADER.size : _HEADER.size + length], seconds)


def _header(blob: bytes) -> tuple[int, int, int, int, int]:
    if len(blob) < 5 or blob[:4] != MAGIC:
        raise ValueError("not a packed trace")
    if blob[4] != VERSION:
        raise ValueError(f"a packed trace of version {blob[4]}, which this code does not know")
    if len(blob) < _HEADER.size:
        raise ValueError("a packed trace that is cut short")
    _, _, _, seconds, start, heart_rate_length, fields, beats = _HEADER.unpack_from(blob)
    return seconds, start, heart_rate_length, fields, beats


def _pack_field(name: str, values: FloatArray) -> bytes:
    missing = np.isnan(values)
    steps = np.rint(values[~missing] / STEPS[name])
    if len(steps) and not np.abs(steps).max() <= _LARGEST_CODE:
        raise ValueError(f"{name} has a value too large to keep")
    codes = _carried_forward(steps.astype(np.int32), missing).view(np.uint32)
    planes = _zigzag(np.diff(codes, prepend=np.uint32(0))).view(np.uint8).reshape(-1, 4).T
    flags = np.packbits(missing) if missing.any() else np.empty(0, np.uint8)
    body = flags.tobytes() + planes.tobytes()
    return zstandard.ZstdCompressor(level=_LEVEL, write_checksum=True).compress(body)


def _unpack_field(name: str, field: bytes, count: int) -> FloatArray:
    largest = 4 * count + (count + 7) // 8
    try:
        if zstandard.frame_content_size(field) > largest:
            raise ValueError(f"a packed trace whose {name} is damaged")
        body = zstandard.ZstdDecompressor().decompress(field, max_output_size=max(largest, 1))
    except zstandard.ZstdError as error:
        raise ValueError(f"a packed trace whose {name} is damaged") from error
    if len(body) not in (4 * count, largest):
        raise ValueError(f"a packed trace whose {name} is damaged")
    planes = np.frombuffer(body, np.uint8, 4 * count, len(body) - 4 * count).reshape(4, count)
    differences = _unzigzag(np.ascontiguousarray(planes.T).view(np.uint32).reshape(count))
    codes = np.cumsum(differences, dtype=np.uint32).view(np.int32)
    values = codes / round(1 / STEPS[name])
    if len(body) > 4 * count:
        flags = np.frombuffer(body, np.uint8, len(body) - 4 * count)
        values[np.unpackbits(flags, count=count).astype(bool)] = np.nan
    return values


def _carried_forward(steps: NDArray[np.int32], missing: NDArray[np.bool_]) -> NDArray[np.int32]:
    """Step of every second; a missing second repeats the one before, which costs nothing to keep."""
    if not len(steps):
        return np.zeros(len(missing), np.int32)
    return steps[(np.cumsum(~missing) - 1).clip(0)]


def _zigzag(differences: NDArray[np.uint32]) -> NDArray[np.uint32]:
    """Small differences of either sign as small numbers, so that high bytes are zero."""
    signed = differences.view(np.int32)
    return ((signed << 1) ^ (signed >> 31)).view(np.uint32)


def _unzigzag(numbers: NDArray[np.uint32]) -> NDArray[np.uint32]:
    sign: NDArray[Any] = np.uint32(0) - (numbers & np.uint32(1))
    return (numbers >> np.uint32(1)) ^ sign
