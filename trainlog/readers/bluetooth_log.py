"""A log of raw Heart Rate Measurement values of the Bluetooth Heart Rate Service.

Each line has a time and the bytes of one value in hexadecimal, such as
``2026-03-01T06:30:00.512Z 16 48 52 03``; see ``measurement`` for the bytes.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

import numpy as np

from trainlog.readers.beats import ends_of_intervals
from trainlog.readers.delimited_times import to_unix_seconds
from trainlog.readers.errors import UnreadableFile
from trainlog.readers.samples import Samples, Stretch
from trainlog.readers.text import Lines

NO_CONTACT = 2
"""Contact bits of a sensor that notices skin contact and has none."""

_TIME = (
    r"\d{4}-\d\d-\d\d[T ]\d\d:\d\d(?::\d\d(?:\.\d{1,9}|,\d{3,9})?)?(?:Z|[+-]\d\d:?\d\d)?"
    r"|\d{1,16}(?:\.\d{1,9})?"
)
_BYTES = r"(?:0x)?[0-9a-f]{2}(?:[ \t:,;-]{0,3}(?:0x)?[0-9a-f]{2}){1,63}"
_LINE = re.compile(rf"\s*\"?({_TIME})\"?\s{{0,3}}[ \t,;]\s{{0,3}}[\"(\[]?({_BYTES})[\")\]]?[;,]?\s*", re.I)
_RESERVED = 0xE0
_LOOKED_AT = 20
_LARGEST_SHARE_UNREADABLE = 0.02


@dataclass(frozen=True)
class Measurement:
    """One value of the characteristic.

    Attributes
    ----------
    heart_rate : int
        Beats a minute.
    contact : int
        Contact bits: 0 or 1, the sensor cannot tell; 2, no skin contact; 3, skin contact.
    energy : int, optional
        Energy expended since it was last reset, in the unit of the sensor.
    rr_ms : tuple of float
        RR intervals in milliseconds, oldest first.
    """

    heart_rate: int
    contact: int
    energy: int | None
    rr_ms: tuple[float, ...]


def measurement(value: bytes) -> Measurement:
    """Decode a Heart Rate Measurement (characteristic 0x2A37 of the Heart Rate Service).

    The first byte holds flags: bit 0, the rate takes 16 bits rather than 8; bits 1 and 2, contact;
    bit 3, energy follows; bit 4, RR intervals follow, in 1/1024 s; the others are reserved. All
    numbers are little-endian.

    Parameters
    ----------
    value : bytes
        The bytes of the value.

    Returns
    -------
    Measurement

    Raises
    ------
    ValueError
        If the bytes are fewer than the flags promise, or an odd number is left for RR intervals.

    Examples
    --------
    >>> measurement(bytes.fromhex("16 48 52 03"))
    Measurement(heart_rate=72, contact=3, energy=None, rr_ms=(830.078125,))
    """
    flags = value[0] if value else 0
    rate_bytes, energy_bytes = (2 if flags & 1 else 1), (2 if flags & 8 else 0)
    rr_from = 1 + rate_bytes + energy_bytes
    if len(value) < rr_from or (len(value) - rr_from) % 2:
        raise ValueError(f"{len(value)} bytes are too few, or one too many, for flags {flags:#04x}")
    rr = value[rr_from:] if flags & 16 else b""
    return Measurement(
        heart_rate=int.from_bytes(value[1 : 1 + rate_bytes], "little"),
        contact=(flags >> 1) & 3,
        energy=int.from_bytes(value[1 + rate_bytes : rr_from], "little") if energy_bytes else None,
        rr_ms=tuple(int.from_bytes(rr[i : i + 2], "little") * 1000 / 1024 for i in range(0, len(rr), 2)),
    )


def is_bluetooth_log(lines: Lines) -> bool:
    """Whether every one of the first lines, but for one of words, holds a time and a sound value.

    Sound means that the length is the one that the flags promise and no reserved bit is set, so that
    a table of three columns of numbers does not pass.
    """
    rows = lines.rows[:_LOOKED_AT]
    if len(rows) > 1 and not rows[0].strip()[:1].isdigit() and not _LINE.fullmatch(rows[0]):
        rows = rows[1:]
    return all(_is_sound(row) for row in rows)


def decode(lines: Lines, *, start: datetime | None, time_zone: ZoneInfo) -> Samples:
    """Decode a log of Heart Rate Measurement values.

    Parameters
    ----------
    lines : Lines
        The file.
    start : datetime, optional
        Instant of elapsed time zero, as the athlete says; it goes before what the file says.
    time_zone : ZoneInfo
        Zone of times that name none.

    Returns
    -------
    Samples
        A value sent without skin contact counts as not recorded, and so do its RR intervals; a rate
        of 0 is one the sensor had not found yet.

    Raises
    ------
    UnreadableFile
        If times only count from a start that is not known, or more than 2% of the lines hold no
        time and value.
    """
    notes = list(lines.notes)
    clocks: list[str] = []
    numbers: list[int] = []
    values: list[Measurement] = []
    unreadable: list[int] = []
    for number, row in zip(lines.numbers, lines.rows, strict=True):
        match = _LINE.fullmatch(row)
        try:
            values.append(measurement(_value(match[2]) if match else b""))
            clocks.append(match[1] if match else "")
            numbers.append(number)
        except ValueError:
            unreadable.append(number)
    if lines.numbers[0] in unreadable:
        unreadable.remove(lines.numbers[0])  # names of the columns
    if len(unreadable) > _LARGEST_SHARE_UNREADABLE * len(lines.rows):
        raise UnreadableFile(
            f"{len(unreadable):,} of {len(lines.rows):,} lines hold no time with the bytes of a measurement",
            where=f"line {unreadable[0]}",
            remedy="Write a time and the hexadecimal bytes of one measurement on each line.",
        )
    if unreadable:
        notes.append(
            f"{len(unreadable):,} lines without the bytes of a measurement were left out, the first is "
            f"line {unreadable[0]}."
        )
    times, assumed, elapsed = to_unix_seconds(
        clocks,
        numbers,
        in_milliseconds=False,
        start=start or lines.start(time_zone),
        time_zone=time_zone,
    )
    touching = np.array([value.contact != NO_CONTACT for value in values])
    rates = np.array([float(value.heart_rate or np.nan) for value in values])
    if not touching.all():
        notes.append(
            f"{np.sum(~touching):,} of {len(values):,} measurements were sent without skin contact and "
            "count as not recorded."
        )
    rr_times, rr_ms = ends_of_intervals(
        (time, value.rr_ms if value.contact != NO_CONTACT else ())
        for time, value in zip(times.tolist(), values, strict=True)
    )
    sport, timed = lines.sport(), times[np.isfinite(times)]
    return Samples(
        format="bluetooth",
        times=times,
        channels={"heart_rate": np.where(touching, rates, np.nan)},
        rr_times=rr_times,
        rr_ms=rr_ms,
        source_key=f"bluetooth:{lines.device()}" if lines.device() else "",
        stretches=(Stretch(timed.min(), timed.max() + 1, sport),) if sport and len(timed) else (),
        counts_from_start=elapsed,
        notes=(*notes, *assumed),
    )


def _is_sound(row: str) -> bool:
    match = _LINE.fullmatch(row)
    if not match:
        return False
    value = _value(match[2])
    try:
        decoded = measurement(value)
    except ValueError:
        return False
    has_rr = bool(value[0] & 16)
    return not value[0] & _RESERVED and has_rr == bool(decoded.rr_ms)


def _value(text: str) -> bytes:
    return bytes.fromhex(re.sub(r"0x|[^0-9a-f]", "", text.lower()))
