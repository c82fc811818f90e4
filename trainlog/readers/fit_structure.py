"""The frame of a FIT file: where its parts lie, how far they are sound, and in what order messages come.

A FIT file is a header, a run of definition and data messages, and a checksum; several such files may
be chained into one. Nothing here decodes a value.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np
from numpy.lib.stride_tricks import as_strided
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
_UINT16 = 0x84
_FEW = 8
"""Turns below which stepping from byte to byte is faster than an array."""
_BESIDES_SAMPLES = {FILE_ID, SESSION, DEVICE_INFO, RR_INTERVALS, STORED_BEATS, FIELD_DESCRIPTION}
_COMPRESSED = 0x80


@dataclass(frozen=True, eq=False)
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
    records_before_rr : array of int, shape (messages of RR intervals,)
        For each message of RR intervals, how many samples come before it.
    rr_ms : tuple of array of int, each of shape (messages, intervals a message)
        RR intervals in milliseconds, 65,535 where a place is empty: runs of messages, in their order.
    besides_samples : bytes, optional
        Definitions and messages of the kinds that are read besides samples and RR intervals; None where
        some of them cannot be decoded without the samples between them, or RR intervals are laid out
        in an unusual way.
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
    records_before_rr: NDArray[np.int64]
    rr_ms: tuple[NDArray[np.uint16], ...]
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
                records_before_rr=np.array(walk.records_before_rr, np.int64),
                rr_ms=tuple(alike.rr_ms() for alike in walk.intervals),
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
    intervals: list[_Intervals] = field(default_factory=list)
    besides_samples: list[bytes] = field(default_factory=list)
    can_be_parted: bool = True
    names: list[int] = field(default_factory=list)


class _Kind(NamedTuple):
    """What a definition says of the messages that follow it.

    ``rr`` is, for RR intervals laid out in the usual way, the first byte of the intervals within a message,
    how many there are, and the type of each.
    """

    message: int
    size: int
    fields: int
    name_at: int | None
    rr: tuple[int, int, str] | None = None


class _Stretch(NamedTuple):
    """Messages of one kind whose heads lie ``step`` bytes apart, or just one.

    ``samples`` are those before the first of them, and each brings ``per_turn`` more.
    """

    kind: _Kind
    place: int
    turns: int
    step: int
    samples: int
    per_turn: int


@dataclass
class _Intervals:
    """RR intervals that are laid out alike, and how many samples come before each message of them."""

    layout: tuple[int, int, str]
    records_before: list[int] = field(default_factory=list)
    packed: bytearray = field(default_factory=bytearray)

    def rr_ms(self) -> NDArray[np.uint16]:
        """Milliseconds, shape (messages, intervals a message)."""
        _, intervals, number_type = self.layout
        return np.frombuffer(self.packed, number_type).reshape(len(self.records_before), intervals)


def _walk(data: bytes, place: int, end: int) -> _Walk:
    """Step from message to message by the lengths that the definitions give."""
    walk = _Walk()
    kinds: dict[int, _Kind] = {}
    while place < end and walk.messages <= MOST_MESSAGES and walk.values <= MOST_VALUES:
        head = data[place]
        if head & 0xC0 == 0x40:
            definition = _definition(data, place, end)
            if definition is None:
                break
            kind, length = definition
            kinds[head & 0x0F] = kind
            if kind.message in _BESIDES_SAMPLES:
                walk.besides_samples.append(data[place : place + length])
            walk.messages += 1
            walk.values += kind.fields
            place += length
            continue
        cycle = [_kind_of(head, kinds, end)]
        length = 1 + cycle[0].size
        if place + length > end:
            break
        follower = data[place + length] if place + length < end else 0x40
        if follower & 0xC0 == 0 and not head & _COMPRESSED and follower != head:
            second = _kind_of(follower, kinds, end)
            both = length + 1 + second.size
            if data[place + both : place + both + 1] == data[place : place + 1] and place + both <= end:
                cycle.append(second)
                length = both
        alone = len(cycle) == 1 and follower != head and not (head & _COMPRESSED and follower & _COMPRESSED)
        count = 1 if alone else _run(data, place, end, length, 1 + cycle[0].size if cycle[1:] else 0)
        _note_cycle(walk, data, cycle, count, place)
        walk.can_be_parted &= not (head & _COMPRESSED and cycle[0].message in _BESIDES_SAMPLES)
        place += count * length
    walk.sound_until, walk.ends_soundly = place, place == end
    return walk


def _kind_of(head: int, kinds: dict[int, _Kind], end: int) -> _Kind:
    """Kind of a data message by its head; one that was never defined reaches beyond every end."""
    local = (head >> 5) & 0x03 if head & _COMPRESSED else head & 0x0F
    return kinds.get(local, _Kind(-1, end, 0, None))


def _note_cycle(walk: _Walk, data: bytes, cycle: list[_Kind], turns: int, place: int) -> None:
    """Note messages of one kind, or of two kinds that take turns."""
    step = sum(1 + kind.size for kind in cycle)
    per_turn = sum(kind.message == RECORD for kind in cycle)
    begin, samples = place, walk.samples
    for kind in cycle:
        if kind.message in _BESIDES_SAMPLES:
            _note(walk, data, _Stretch(kind, begin, turns, step, samples, per_turn))
        walk.messages += turns
        walk.values += turns * kind.fields
        begin += 1 + kind.size
        samples += kind.message == RECORD
    walk.samples += turns * per_turn


def _note(walk: _Walk, data: bytes, stretch: _Stretch) -> None:
    """Keep what is read besides samples."""
    kind = stretch.kind
    if kind.message != RR_INTERVALS:
        walk.besides_samples.append(_bytes_of(data, stretch, 0, 1 + kind.size))
        if kind.name_at is not None:
            first = stretch.place + 1 + kind.name_at
            walk.names += [first + turn * stretch.step for turn in range(stretch.turns)]
        return
    before = [stretch.samples + turn * stretch.per_turn for turn in range(stretch.turns)]
    walk.records_before_rr += before
    if kind.rr is None:
        walk.can_be_parted = False
        return
    if not walk.intervals or walk.intervals[-1].layout != kind.rr:
        walk.intervals.append(_Intervals(kind.rr))
    first, intervals, _ = kind.rr
    walk.intervals[-1].records_before += before
    walk.intervals[-1].packed += _bytes_of(data, stretch, first, 2 * intervals)


def _bytes_of(data: bytes, stretch: _Stretch, first: int, length: int) -> bytes:
    """``length`` bytes of each message of a stretch, from its byte ``first`` on."""
    place, turns, step = stretch.place + first, stretch.turns, stretch.step
    if turns == 1:
        return data[place : place + length]
    if length == step:
        return data[place : place + turns * step]
    if turns < _FEW:
        return b"".join([data[place + turn * step : place + turn * step + length] for turn in range(turns)])
    block = np.frombuffer(data, np.uint8, (turns - 1) * step + length, place)
    return as_strided(block, (turns, length), (step, 1), writeable=False).tobytes()


def _run(data: bytes, place: int, end: int, length: int, second: int) -> int:
    """How often whole messages follow in the same order of heads, this time included.

    A turn is one message of ``length`` bytes, or two, of which the second begins ``second`` bytes in.
    """
    head = data[place]
    same = 0xE0 if head & _COMPRESSED else 0xFF  # the other bits of a compressed head are a time
    most = min((end - place) // length, MOST_MESSAGES)
    heads = ((place, head), (place + second, data[place + second])) if second else ((place, head),)
    count = 1
    while count < min(_FEW, most):
        if any((data[at + count * length] ^ one) & same for at, one in heads):
            return count
        count += 1
    every_byte, chunk = np.frombuffer(data, np.uint8), 16
    while count < most:
        turns = min(chunk, most - count)
        other = np.zeros(turns, np.uint8)
        for at, one in heads:
            begin = at + count * length
            other |= (every_byte[begin : begin + (turns - 1) * length + 1 : length] ^ one) & same
        if other.any():
            return count + int((other != 0).argmax())
        count += turns
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
    rr = None
    if message == RR_INTERVALS and numbers == b"\0" and data[place + 8] == _UINT16 and sizes[0] % 2 == 0:
        rr = 1, sizes[0] // 2, ">u2" if data[place + 2] else "<u2"
    return _Kind(message, size, fields, name_at, rr), length
