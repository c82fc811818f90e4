"""Seconds of a wrist trace by state: how fast, rising or falling, how early, and flagged or not.

A table of a few hundred rows stands for an hour of trace wherever only the time spent in a state counts:
features, and what a trace model makes of each state. A refit then decodes no trace.
"""

from __future__ import annotations

import io
import zipfile
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import DTypeLike, NDArray

from accuracy.core.traces.align import moved
from accuracy.core.traces.artefacts import Flags, Reason, flag
from accuracy.core.traces.pairing import PairedTraces
from trainlog.trace import FloatArray

RATE_STEP = 3.0
"""bpm of one step of the rate."""

SLOPE_REACH = 10
"""Seconds before and after, between which the change is taken."""

SLOPE_EDGES = np.array([-18.0, -6.0, 6.0, 18.0])
"""bpm of change over twice ``SLOPE_REACH`` that part falling fast, falling, level, rising, rising fast
(common practice, no source)."""

SLOPE_MIDDLES = np.array([-26.0, -11.0, 0.0, 11.0, 26.0])
"""bpm that stand for the five."""

EARLY_EDGES = np.array([60.0, 180.0, 480.0])
"""Seconds since the first reading that part the start into the first minute, until the third, until the
eighth, and later (trade practice: lock-on takes 2 to 4 minutes)."""

NOT_FLAGGED, AT_START, AT_STEP_RATE, OTHERWISE = range(4)
"""What a second is flagged as, for the purpose of a state."""

OF_NOTE = Reason.FLAT_LINE | Reason.SPIKE | Reason.IMPOSSIBLE_CHANGE


@dataclass(frozen=True, eq=False)
class States:
    """Time spent by a wrist trace in each state that occurred.

    Attributes
    ----------
    rate : array, shape (states,)
        Mean rate of the state's seconds, bpm.
    slope, early, flagged : array of int, shape (states,)
        Places in ``SLOPE_MIDDLES``, after ``EARLY_EDGES``, and among the four kinds of flag.
    seconds : array, shape (states,)
    difference : array, shape (states,)
        Mean of reference minus wrist over the state's seconds, bpm; NaN where no reference was worn.
    """

    rate: FloatArray
    slope: NDArray[np.int64]
    early: NDArray[np.int64]
    flagged: NDArray[np.int64]
    seconds: FloatArray
    difference: FloatArray

    def __len__(self) -> int:
        return len(self.seconds)


def states_of(heart_rate: FloatArray, flags: Flags, reference: FloatArray | None = None) -> States:
    """Count the seconds of a wrist trace by state.

    Parameters
    ----------
    heart_rate : array, shape (seconds,)
        Of the tested sensor in bpm at 1 Hz; NaN seconds are in no state.
    flags : Flags
        Of the same trace.
    reference : array, shape (seconds,), optional
        Aligned; then only seconds valid in both count.

    Returns
    -------
    States
    """
    known = np.isfinite(heart_rate)
    counted = known if reference is None else known & np.isfinite(reference)
    if not counted.any():
        nothing = np.zeros(0)
        empty = np.zeros(0, dtype=np.int64)
        return States(nothing, empty, empty, empty, nothing, nothing)
    early = np.searchsorted(EARLY_EDGES, np.arange(len(heart_rate)) - int(np.argmax(known)), side="right")
    flagged = kinds_of_flag(flags)
    slope = np.searchsorted(SLOPE_EDGES, slope_of(heart_rate))
    step = np.round(np.where(counted, heart_rate, 0) / RATE_STEP).astype(np.int64).clip(0, 127)
    code = (((step * 5 + slope) * 4 + early) * 4 + flagged)[counted]
    found, place = np.unique(code, return_inverse=True)
    seconds = np.bincount(place).astype(float)
    rate = np.bincount(place, heart_rate[counted]) / seconds
    difference = np.full(len(found), np.nan)
    if reference is not None:
        difference = np.bincount(place, (reference - heart_rate)[counted]) / seconds
    return States(rate, found // 16 % 5, found // 4 % 4, found % 4, seconds, difference)


def common_states(paired: PairedTraces, cadence: FloatArray | None = None) -> States:
    """States of a pair's tested trace over the common seconds, with differences from the reference.

    Parameters
    ----------
    paired : PairedTraces
    cadence : array, shape (seconds,), optional
        On the tested sensor's own clock.
    """
    steps = None if cadence is None else moved(cadence, paired.shift)
    flags = flag(paired.tested, principle="optical", cadence=steps)
    return states_of(paired.tested, flags, paired.reference)


def kinds_of_flag(flags: Flags) -> NDArray[np.int64]:
    """What each second is flagged as, of the four kinds that make a state, shape (seconds,)."""
    flagged = np.full(len(flags.codes), NOT_FLAGGED)
    flagged[flags.has(OF_NOTE)] = OTHERWISE
    flagged[flags.has(Reason.BEFORE_LOCK_ON)] = AT_START
    flagged[flags.at_step_rate()] = AT_STEP_RATE
    return flagged


def slope_of(heart_rate: FloatArray) -> FloatArray:
    """Change from ``SLOPE_REACH`` seconds before to as many after, bpm; 0 where either is unknown."""
    change = np.zeros(len(heart_rate))
    reach = 2 * SLOPE_REACH
    if len(heart_rate) > reach:
        change[SLOPE_REACH:-SLOPE_REACH] = heart_rate[reach:] - heart_rate[:-reach]
    return np.where(np.isfinite(change), change, 0.0)


def as_bytes(states: States) -> bytes:
    """States for a database column; ``from_bytes`` reads them."""
    code = (states.slope * 4 + states.early) * 4 + states.flagged
    stored = io.BytesIO()
    np.savez_compressed(
        stored,
        code=code.astype(np.uint8),
        seconds=states.seconds.astype("<f4"),
        rate=states.rate.astype("<f4"),
        difference=states.difference.astype("<f4"),
    )
    return stored.getvalue()


def from_bytes(stored: bytes) -> States:
    """States from their stored bytes."""
    with zipfile.ZipFile(io.BytesIO(stored)) as held:
        code = _column(held, "code", np.uint8).astype(np.int64)
        seconds, rate, difference = (
            _column(held, name, "<f4").astype(float) for name in ("seconds", "rate", "difference")
        )
    return States(rate, code // 16, code // 4 % 4, code % 4, seconds, difference)


def _column(held: zipfile.ZipFile, name: str, kind: DTypeLike) -> NDArray[Any]:
    """One column of what ``as_bytes`` wrote.

    Its kind is known: to read it off each header, as ``numpy.load`` does, takes longer than all the rest.
    """
    whole = held.read(f"{name}.npy")
    length_of_header = int.from_bytes(whole[8:10], "little")
    return np.frombuffer(whole, kind, offset=10 + length_of_header)
