"""What is wrong with one heart-rate trace, judged from that trace alone.

The other sensor is never consulted: a reference judged by the wrist would hide the wrist's errors. What a
reference says of a flag of the tested sensor is asked afterwards: see ``step_rate.lock_confirmed``.
"""

from __future__ import annotations

import enum
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from accuracy.core.traces import detectors
from accuracy.core.traces.detectors import FLAT_SECONDS, HIGHEST_RATE, LOWEST_RATE, BoolArray, runs
from accuracy.core.traces.step_rate import step_rate_lock
from trainlog.trace import FloatArray

Principle = Literal["electrical", "optical"]


class Reason(enum.IntFlag):
    """Why a second of a trace is not to be believed; one bit each."""

    DROP_OUT = 1
    OUT_OF_RANGE = 2
    FLAT_LINE = 4
    SPIKE = 8
    IMPOSSIBLE_CHANGE = 16
    DRY_ELECTRODES = 32
    BEFORE_LOCK_ON = 64
    STEP_RATE_LOCK = 128
    NEAR_STEP_RATE = 256


MEANINGS: Mapping[Reason, str] = {
    Reason.DROP_OUT: "no reading",
    Reason.OUT_OF_RANGE: f"outside {LOWEST_RATE:.0f} to {HIGHEST_RATE:.0f} bpm",
    Reason.FLAT_LINE: f"exactly constant for {FLAT_SECONDS} s or longer",
    Reason.SPIKE: "a spike",
    Reason.IMPOSSIBLE_CHANGE: "a change faster than a heart makes",
    Reason.DRY_ELECTRODES: "unsettled start, as with dry electrodes",
    Reason.BEFORE_LOCK_ON: "possibly before the sensor locked on",
    Reason.STEP_RATE_LOCK: "follows the step rate",
    Reason.NEAR_STEP_RATE: "stays at the step rate, which the heart may do too",
}
"""Words for a person, by reason."""

ERRATIC = Reason.OUT_OF_RANGE | Reason.SPIKE | Reason.IMPOSSIBLE_CHANGE
"""What an unsettled start is made of."""

INFORMATION_ONLY = Reason.BEFORE_LOCK_ON | Reason.NEAR_STEP_RATE
"""Weak evidence: shown, and cut from nothing."""


@dataclass(frozen=True, eq=False)
class Flags:
    """Reasons by second.

    Attributes
    ----------
    codes : array of uint16, shape (seconds,)
        Sum of the ``Reason`` bits that hold at each second; 0 where nothing is wrong.
    """

    codes: NDArray[np.uint16]

    def has(self, reason: Reason) -> BoolArray:
        """Mark the seconds on which any of the reason's bits holds, shape (seconds,)."""
        return (self.codes & np.uint16(reason)) != 0

    def at_step_rate(self) -> BoolArray:
        """Mark the seconds locked on the step rate or near it, shape (seconds,)."""
        return self.has(Reason.STEP_RATE_LOCK | Reason.NEAR_STEP_RATE)

    def stretches(self) -> list[tuple[int, int, Reason]]:
        """First second, first second after, and reason of every unbroken stretch, in order of start."""
        found = [
            (start, end, reason) for reason in Reason for start, end in runs(self.has(reason)) if end > start
        ]
        return sorted(found)


def flag(heart_rate: FloatArray, *, principle: Principle, cadence: FloatArray | None = None) -> Flags:
    """Find what is wrong with a trace without consulting another one.

    Parameters
    ----------
    heart_rate : array, shape (seconds,)
        Heart rate in bpm at 1 Hz, NaN where nothing was recorded.
    principle : {'electrical', 'optical'}
        Dry electrodes are looked for in an electrical trace; the time before lock-on (weak evidence, for
        information) and a lock on the step rate in an optical one: certain enough where the rate moves with
        the cadence or leapt onto it, else only noticed as near.
    cadence : array, shape (seconds,), optional
        Steps or strides a minute on the same seconds.

    Returns
    -------
    Flags
        Reasons by second.

    Raises
    ------
    ValueError
        If the principle is unknown or the cadence has another length.
    """
    if principle not in ("electrical", "optical"):
        raise ValueError(f"a sensor is electrical or optical, not {principle!r}")
    if cadence is not None and len(cadence) != len(heart_rate):
        raise ValueError("cadence and heart rate must have as many seconds each")
    known = np.isfinite(heart_rate)
    marked = {Reason.DROP_OUT: ~known}
    if known.any():
        marked |= {
            Reason.OUT_OF_RANGE: known & ((heart_rate < LOWEST_RATE) | (heart_rate > HIGHEST_RATE)),
            Reason.FLAT_LINE: detectors.flat(heart_rate),
            Reason.SPIKE: detectors.spikes(heart_rate, known),
            Reason.IMPOSSIBLE_CHANGE: detectors.impossible_changes(heart_rate),
        }
        if principle == "electrical":
            wrong = np.logical_or.reduce([mask for reason, mask in marked.items() if reason in ERRATIC])
            marked[Reason.DRY_ELECTRODES] = detectors.dry_start(heart_rate, wrong)
        else:
            marked[Reason.BEFORE_LOCK_ON] = detectors.start_before_lock_on(heart_rate)
            if cadence is not None:
                locked, near = step_rate_lock(heart_rate, cadence)
                marked |= {Reason.STEP_RATE_LOCK: locked, Reason.NEAR_STEP_RATE: near}
    codes = np.zeros(len(heart_rate), dtype=np.uint16)
    for reason, mask in marked.items():
        codes[mask] |= np.uint16(reason)
    return Flags(codes)


def untrustworthy(flags: Flags) -> BoolArray:
    """Seconds to cut from a reference before anything is learned from it.

    Parameters
    ----------
    flags : Flags
        Of the reference trace itself; the tested trace has no say.

    Returns
    -------
    array of bool, shape (seconds,)
        True where any reason but the information-only ones holds, missing seconds included.
    """
    return (flags.codes & ~np.uint16(INFORMATION_ONLY)) != 0
