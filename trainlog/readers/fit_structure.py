"""The frame of a FIT file: where its parts lie, how far they are sound, and in what order messages come.

A FIT file is a header, a run of definition and data messages, and a checksum; several such files may
be chained into one. Nothing here decodes a value.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator
from dataclasses import dataclass

from trainlog.readers.errors import UnreadableFile

SIGNATURE = b".FIT"
RECORD, RR_INTERVALS = 20, 78
"""Global message numbers of a sample and of a message of RR intervals."""

LARGEST_FILE = 32 * 2**20
"""Bytes; two days at one sample a second with many extra fields stay below."""

MOST_MESSAGES = 500_000
"""Definitions and messages of one file; two days of samples and RR intervals each second stay below."""

MOST_VALUES = 5_000_000
"""Fields of all definitions and messages of one file; two days with 25 fields a second stay below."""

MOST_PARTS = 50
"""Files chained into one."""

_HEADER = struct.Struct("<BBHI4s")


@dataclass(frozen=True)
class Part:
    """One of the files chained into a FIT file.

    Attributes
    ----------
    data : bytes
        Header, messages and checksum, as far as the file has them.
    header : int
        Length of the header in bytes.
    offset : int
        Byte of the whole file at which the part starts.
    cut_short : bool
        The header promises more bytes than there are.
    sound_until : int
        Byte of the whole file up to which the messages follow the format.
    ends_soundly : bool
        The messages follow the format to the end.
    records_before_rr : tuple of int
        For each message of RR intervals, how many samples come before it.
    """

    data: bytes
    header: int
    offset: int
    cut_short: bool
    sound_until: int
    ends_soundly: bool
    records_before_rr: tuple[int, ...]

    def messages(self) -> bytes:
        """Definition and data messages without header and checksum."""
        return self.data[self.header :] if self.cut_short else self.data[self.header : -2]


def split(data: bytes) -> tuple[list[Part], int]:
    """Parts of a FIT file, and how many bytes follow the last of them.

    Parameters
    ----------
    data : bytes
        A file with the signature of the format.

    Returns
    -------
    parts : list of Part
        At least one.
    trailing : int
        Bytes at the end that belong to no part.

    Raises
    ------
    UnreadableFile
        If the file is larger, or has more messages or parts, than a workout can have.
    """
    if len(data) > LARGEST_FILE:
        raise UnreadableFile(
            f"The file is larger than {LARGEST_FILE // 2**20} MB, which no single workout is",
            remedy="Split it into one file for each workout.",
        )
    parts: list[Part] = []
    offset = messages = values = 0
    while data[offset + 8 : offset + 12] == SIGNATURE:
        if len(parts) == MOST_PARTS:
            raise UnreadableFile(
                f"More than {MOST_PARTS} files are chained into this one",
                where=f"byte {offset}",
                remedy="Split it into one file for each workout.",
            )
        header, _, _, size, _ = _HEADER.unpack_from(data, offset)
        header = header if header in (12, 14) else 14
        end = offset + header + size + 2
        unfinished = size == 0 or end > len(data)
        end = len(data) if unfinished else end
        walk = _walk(data, offset + header, end if unfinished else end - 2)
        messages += walk.messages
        values += walk.values
        if messages > MOST_MESSAGES or values > MOST_VALUES:
            raise UnreadableFile(
                f"The file holds more than {MOST_MESSAGES:,} messages or {MOST_VALUES:,} values, "
                "which no single workout does",
                remedy="Split it into one file for each workout.",
            )
        parts.append(
            Part(
                data=data[offset:end],
                header=header,
                offset=offset,
                cut_short=unfinished,
                sound_until=walk.sound_until,
                ends_soundly=walk.ends_soundly,
                records_before_rr=tuple(walk.records_before_rr),
            )
        )
        offset = end
    return parts, len(data) - offset


@dataclass
class _Walk:
    sound_until: int
    ends_soundly: bool
    messages: int
    values: int
    records_before_rr: list[int]


def _walk(data: bytes, place: int, end: int) -> _Walk:
    """Step from message to message by the lengths that the definitions give."""
    kinds: dict[int, tuple[int, int, int]] = {}
    messages = values = records = 0
    before_rr: list[int] = []
    while place < end and messages <= MOST_MESSAGES and values <= MOST_VALUES:
        head = data[place]
        if head & 0xC0 == 0x40:
            definition = _definition(data, place, end)
            if definition is None:
                return _Walk(place, False, messages, values, before_rr)
            kind, size, fields, length = definition
            kinds[head & 0x0F] = kind, size, fields
            place += length
        else:
            local = (head >> 5) & 0x03 if head & 0x80 else head & 0x0F
            kind, size, fields = kinds.get(local, (-1, end, 0))
            if place + 1 + size > end:
                return _Walk(place, False, messages, values, before_rr)
            place += 1 + size
            if kind == RECORD:
                records += 1
            elif kind == RR_INTERVALS:
                before_rr.append(records)
        messages += 1
        values += fields
    return _Walk(place, place == end, messages, values, before_rr)


def _definition(data: bytes, place: int, end: int) -> tuple[int, int, int, int] | None:
    """Kind of message defined, bytes and fields of its data, bytes of the definition; None if cut short."""
    if place + 6 > end:
        return None
    kind = int.from_bytes(data[place + 3 : place + 5], "big" if data[place + 2] else "little")
    length = 6 + 3 * data[place + 5]
    fields = data[place + 5]
    sizes = sum(_field_sizes(data, place + 6, fields))
    if data[place] & 0x20:
        if place + length >= end:
            return None
        further = data[place + length]
        sizes += sum(_field_sizes(data, place + length + 1, further))
        length += 1 + 3 * further
        fields += further
    return (kind, sizes, fields, length) if place + length <= end else None


def _field_sizes(data: bytes, place: int, fields: int) -> Iterator[int]:
    return iter(data[place + 1 : place + 3 * fields : 3])
