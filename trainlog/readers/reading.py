"""What a reader hands back."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from trainlog.trace import Trace


class Clock(StrEnum):
    """How the source says its clock was set."""

    SYNCHRONISED = "synchronised"
    FREE = "free"
    UNKNOWN = "unknown"


@dataclass(frozen=True)
class Segment:
    """A stretch that the file itself marks as one kind of work.

    Attributes
    ----------
    start, end : datetime
        UTC instants; ``end`` is the first instant after the stretch.
    sport : str
        Lower-case sport word of the file ("running", "strength_training"), empty when not said.
    """

    start: datetime
    end: datetime
    sport: str


@dataclass(frozen=True)
class Reading:
    """One decoded file.

    Attributes
    ----------
    trace : Trace
        The signals; positions only if the caller asked for them.
    format : str
        "fit", "gpx", "csv", "rr" (RR intervals) or "bluetooth" (a log of heart-rate measurements).
    source_key : str
        Stable text naming the device as far as the file tells, so that later files of the same
        device are recognised; empty when the file tells nothing.
    clock : Clock
        How the source's clock was set, as far as the file tells.
    segments : tuple of Segment
        In order of time; empty when the file marks none.
    notes : tuple of str
        What the reader had to repair, guess or leave out, one sentence each, for the athlete.
    """

    trace: Trace
    format: str
    source_key: str = ""
    clock: Clock = Clock.UNKNOWN
    segments: tuple[Segment, ...] = ()
    notes: tuple[str, ...] = ()
