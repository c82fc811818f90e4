"""The frame of a FIT file: where its parts lie, how far they are sound, and in what order messages come.

A FIT file is a header, a run of definition and data messages, and a checksum; several such files may
be chained into one. Nothing here decodes a value.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from trainlog.readers.errors import UnreadableFile

SIGNATURE = b".FIT"
FILE_ID, SESSION, RECORD, DEVICE_INFO, RR_INTERVALS, STORED_BEATS, FIELD_DESCRIPTION = (
    0,
    18,
    20,
    23,
    78,
    132,
    206,
)
"""The format's own numbers of the kinds of message that the log reads."""

NAME_OF_FIELD = 3
"""Number of the field of a ``FIELD_DESCRIPTION`` that holds a developer field's name."""

LARGEST_FILE = 32 * 2**20
"""Bytes; two days at one sample a second with many extra fields stay below."""

MOST_MESSAGES = 500_000
"""Definitions and messages of one file; two days of samples and RR intervals each second stay below."""

MOST_VALUES = 5_000_000
"""Fields of all definitions and messages of one file; two days with 25 fields a second stay below."""

MOST_PARTS = 50
"""Files chained into one."""

_HEADER = struct.Struct("<BBHI4s")
_BESIDES_SAMPLES = {FILE_ID, SESSION, DEVICE_INFO, RR_INTERVALS, STORED_BEATS, FIELD_DESCRIPTION}
_COMPRESSED = 0x80


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
    promised : int
        How many bytes the header promises; 0 where it was never finished.
    sound_until : int
        Byte of the whole file up to which the messages follow the format.
    ends_soundly : bool
        The messages follow the format to the end.
    records_before_rr : tuple of int
        For each message of RR intervals, how many samples come before it.
    besides_samples : bytes, optional
        Definitions and messages of the kinds that are read besides samples; None where some of them
        cannot be decoded without the samples between them.
    names : tuple of int
        Where in ``data`` the names of developer fields stand.
    """

    data: bytes
    header: int
    offset: int
    cut_short: bool
    promised: int
    sound_until: int
    ends_soundly: bool
    records_before_rr: tuple[int, ...]
    besides_samples: bytes | None
    names: tuple[int, ...]

    def messages(self) -> bytes:
        """Definition and data messages without header and checksum."""
        return self.data[self.header :] if self.cut_short else self.data[self.header : -2]

    def sound_messages(self) -> bytes:
        """Definition and data messages up to where they stop following the format."""
        return self.data[self.header : self.sound_until - self.offset]


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
                promised=header + size + 2 if size else 0,
                sound_until=walk.sound_until,
                ends_soundly=walk.ends_soundly,
                records_before_rr=tuple(walk.records_before_rr),
                besides_samples=b"".join(walk.besides_samples) if walk.can_be_parted else None,
                names=tuple(place - offset for place in walk.names),
            )
        )
        offset = end
    return parts, len(data) - offset


@dataclass
class _Walk:
    sound_until: int = 0
    ends_soundly: bool = False
    messages: int = 0
    values: int = 0
    samples: int = 0
    records_before_rr: list[int] = field(default_factory=list)
    besides_samples: list[bytes] = field(default_factory=list)
    can_be_parted: bool = True
    names: list[int] = field(default_factory=list)


class _Kind(NamedTuple):
    """What a definition says of the messages that follow it."""

    message: int
    size: int
    fields: int
    name_at: int | None


def _walk(data: bytes, place: int, end: int) -> _Walk:
    """Step from message to message by the lengths that the definitions give."""
    walk = _Walk()
    every_byte = np.frombuffer(data, np.uint8)
    kinds: dict[int, _Kind] = {}
    while place < end and walk.messages <= MOST_MESSAGES and walk.values <= MOST_VALUES:
        head = data[place]
        if head & 0xC0 == 0x40:
            definition = _definition(data, place, end)
            if definition is None:
                break
            kind, length = definition
            kinds[head & 0x0F] = kind
            count = 1
        else:
            local = (head >> 5) & 0x03 if head & _COMPRESSED else head & 0x0F
            kind = kinds.get(local, _Kind(-1, end, 0, None))
            if place + 1 + kind.size > end:
                break
            follower = place + 1 + kind.size
            alone = follower >= end or (data[follower] != head and not head & _COMPRESSED)
            count = 1 if alone else _run(every_byte, place, end, 1 + kind.size)
            length = count * (1 + kind.size)
            _note(walk, kind, count, place)
            walk.can_be_parted &= not (head & _COMPRESSED and kind.message in _BESIDES_SAMPLES)
        if kind.message in _BESIDES_SAMPLES:
            walk.besides_samples.append(data[place : place + length])
        walk.messages += count
        walk.values += count * kind.fields
        place += length
    walk.sound_until, walk.ends_soundly = place, place == end
    return walk


def _note(walk: _Walk, kind: _Kind, count: int, place: int) -> None:
    if kind.message == RECORD:
        walk.samples += count
    elif kind.message == RR_INTERVALS:
        walk.records_before_rr += [walk.samples] * count
    elif kind.name_at is not None:
        walk.names += [place + i * (1 + kind.size) + 1 + kind.name_at for i in range(count)]


def _run(every_byte: NDArray[np.uint8], place: int, end: int, length: int) -> int:
    """How many whole messages of the same head follow one another, this one included."""
    head = every_byte[place]
    same = 0xE0 if head & _COMPRESSED else 0xFF  # the other bits of a compressed head are a time
    most = min((end - place) // length, MOST_MESSAGES)
    count, chunk = 1, 1
    while count < most:
        begin = place + count * length
        heads = every_byte[begin : begin + (min(chunk, most - count) - 1) * length + 1 : length]
        other = np.flatnonzero((heads ^ head) & same)
        if len(other):
            return count + int(other[0])
        count += len(heads)
        chunk *= 16
    return count


def _definition(data: bytes, place: int, end: int) -> tuple[_Kind, int] | None:
    """What a definition says, and its bytes; None if it is cut short."""
    if place + 6 > end:
        return None
    message = int.from_bytes(data[place + 3 : place + 5], "big" if data[place + 2] else "little")
    fields = data[place + 5]
    length = 6 + 3 * fields
    numbers = data[place + 6 : place + length : 3]
    sizes = data[place + 7 : place + length : 3]
    size = sum(sizes)
    if data[place] & 0x20:
        if place + length >= end:
            return None
        further = data[place + length]
        size += sum(data[place + length + 2 : place + length + 1 + 3 * further : 3])
        length += 1 + 3 * further
        fields += further
    if place + length > end:
        return None
    name_at = None
    if message == FIELD_DESCRIPTION and NAME_OF_FIELD in numbers:
        name_at = sum(sizes[: numbers.index(NAME_OF_FIELD)])
    return _Kind(message, size, fields, name_at), length
