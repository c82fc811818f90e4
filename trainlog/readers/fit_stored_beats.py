"""Heart rate that a sensor stored and sent later, in the ``hr`` messages of a FIT file."""

from __future__ import annotations

from typing import Any

import numpy as np

from trainlog.trace import FloatArray

_TICKS = 1024
"""Ticks a second of the clock that stamps stored beats."""


def stored_beats(messages: list[dict[Any, Any]]) -> tuple[FloatArray, FloatArray]:
    """Unix time and filtered heart rate of each beat in ``hr`` messages.

    The first message of a run carries a full time stamp and the counter of the sensor's clock; the
    others carry the low 12 bits of that counter, which wrap every 4 s.
    """
    times: list[float] = []
    rates: list[float] = []
    zero = ticks = None
    for message in messages:
        rate = _sequence(message.get("filtered_bpm"))
        low_bits = _twelve_bit_numbers(message.get("event_timestamp_12"))
        counters = _sequence(message.get("event_timestamp")) if low_bits is None else []
        stamp = message.get("timestamp")
        if counters and isinstance(stamp, (int, float)):
            fraction = message.get("fractional_timestamp", 0.0)
            zero = stamp + (fraction if isinstance(fraction, (int, float)) else 0.0) - counters[0]
        if zero is None:
            continue
        stamps: list[float] = []
        for counter in counters:
            ticks = round(counter * _TICKS)
            stamps.append(counter)
        for bits in low_bits or []:
            if ticks is None:
                break
            ticks += (bits - ticks) % 4096
            stamps.append(ticks / _TICKS)
        times += [zero + stamp for stamp, _ in zip(stamps, rate, strict=False)]
        rates += [value for _, value in zip(stamps, rate, strict=False)]
    return np.array(times, float), np.array(rates, float)


def _twelve_bit_numbers(packed: Any) -> list[int] | None:
    if not isinstance(packed, (bytes, list, tuple)) or not all(isinstance(byte, int) for byte in packed):
        return None
    numbers = []
    for first, second, third in zip(packed[0::3], packed[1::3], packed[2::3], strict=False):
        numbers += [first | (second & 0x0F) << 8, second >> 4 | third << 4]
    return numbers


def _sequence(value: Any) -> list[float]:
    items = value if isinstance(value, (list, tuple, bytes)) else [value]
    return [float(item) if isinstance(item, (int, float)) else np.nan for item in items if item is not None]
