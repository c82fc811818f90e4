"""The checksum of a FIT file, CRC-16/ARC, over arrays instead of byte by byte."""

from __future__ import annotations

import numpy as np

_POLYNOMIAL = 0xA001
_SHORT = 1024


def checksum(data: bytes) -> int:
    """CRC-16/ARC.

    The sum is linear and starts at zero, so leading zeros leave it alone: the bytes are laid out as
    equally long rows, all rows are summed at once, and the sums are joined.

    Parameters
    ----------
    data : bytes
        What is summed.

    Returns
    -------
    int
        16 bits.

    Examples
    --------
    >>> hex(checksum(b"123456789"))
    '0xbb3d'
    """
    if len(data) < _SHORT:
        value = 0
        for byte in data:
            value = (value >> 8) ^ _ENTRIES[(value ^ byte) & 0xFF]
        return value
    length = int(len(data) ** 0.5)
    rows = -(-len(data) // length)
    padded = np.zeros(rows * length, np.uint8)
    padded[len(padded) - len(data) :] = np.frombuffer(data, np.uint8)
    sums = np.zeros(rows, np.uint16)
    for column in padded.reshape(rows, length).T:
        sums = (sums >> 8) ^ _TABLE[(sums ^ column) & 0xFF]
    bits = np.uint16(1) << np.arange(16, dtype=np.uint16)
    for _ in range(length):
        bits = (bits >> 8) ^ _TABLE[bits & 0xFF]
    moved = bits.tolist()
    value = 0
    for row in sums.tolist():
        after = 0
        for bit in range(16):
            if value >> bit & 1:
                after ^= moved[bit]
        value = after ^ row
    return value


def _table() -> np.ndarray:
    values = np.arange(256, dtype=np.uint16)
    for _ in range(8):
        values = np.where(values & 1, (values >> 1) ^ _POLYNOMIAL, values >> 1).astype(np.uint16)
    return values


_TABLE = _table()
_ENTRIES: list[int] = _TABLE.tolist()
