"""Numbers that the summary of a report is written from; nothing here knows a database or a document."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class Estimate:
    """A value with its 95% interval; None where there are too few sessions for one."""

    value: float
    low: float | None = None
    high: float | None = None

    @property
    def known(self) -> bool:
        """Whether it has an interval."""
        return self.low is not None and self.high is not None


@dataclass(frozen=True)
class HeartRate:
    """Agreement of heart rate over all sessions.

    Attributes
    ----------
    bias : Estimate
        Tested minus reference, bpm.
    lower, upper : Estimate or None
        Limits of agreement, bpm; None with too few sessions.
    mean_absolute_error : Estimate
        bpm.
    mean_absolute_percentage_error : Estimate
        Per cent of the reference.
    lowest, highest : float
        Rates of the reference that the sessions covered, bpm.
    changes_with_rate : Estimate or None
        Change of the bias per 10 bpm.
    """

    bias: Estimate
    lower: Estimate | None
    upper: Estimate | None
    mean_absolute_error: Estimate
    mean_absolute_percentage_error: Estimate
    lowest: float
    highest: float
    changes_with_rate: Estimate | None = None


@dataclass(frozen=True)
class Load:
    """Tested load against the reference's, session by session, in per cent: mean, lowest and highest."""

    sessions: int
    mean: Estimate
    lowest: float
    highest: float


@dataclass(frozen=True)
class Work:
    """One kind of work: its sessions, its bias in bpm, and the mean difference of its loads in per cent."""

    activity: str
    sessions: int
    bias: Estimate
    load: Estimate | None = None


@dataclass(frozen=True)
class LockOn:
    """Seconds until the sensor locked on at starts of sessions; ``late`` took over two minutes."""

    sessions: int
    never: int
    late: int
    middle: float | None
    longest: float | None


@dataclass(frozen=True)
class Fault:
    """Something that was found in a trace, in how many sessions, and for how many minutes in all."""

    meaning: str
    sessions: int
    minutes: float


@dataclass(frozen=True)
class Correction:
    """What correcting loads did to sessions that the correction had not seen.

    Attributes
    ----------
    pairs : int
    as_it_stands, corrected : float
        Mean absolute error of the load in per cent of the reference's.
    nearer : int
        Pairs whose load came nearer.
    held : int
        Pairs whose load the 80% interval held.
    """

    pairs: int
    as_it_stands: float
    corrected: float
    nearer: int
    held: int


@dataclass(frozen=True)
class Findings:
    """All that the summary of one sensor is written from.

    Attributes
    ----------
    sensor : str
    sessions : int
        Workouts that figures rest on.
    hours : float
        That both sensors have.
    activities : sequence of (str, int)
        Name and number of pairs of each.
    days : tuple of str or None
        First and last, in words; None where they must not be told.
    set_aside : int
        Pairs that no figure rests on.
    far_off : Fault or None
        Stretches on which the sensor was far off.
    """

    sensor: str
    sessions: int
    hours: float = 0.0
    activities: Sequence[tuple[str, int]] = ()
    days: tuple[str, str] | None = None
    set_aside: int = 0
    heart_rate: HeartRate | None = None
    load: Load | None = None
    work: Sequence[Work] = ()
    lock_on: LockOn | None = None
    far_off: Fault | None = None
    faults: Sequence[Fault] = ()
    reference_faults: Sequence[Fault] = ()
    correction: Correction | None = None
