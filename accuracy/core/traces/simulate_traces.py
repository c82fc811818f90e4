"""Invented pairs whose truth is known: what alignment and the artefact detectors are measured on.

Kinetics follow the literature where it has numbers (time constants of 20 to 40 s up, 30 to 60 s down); how
a wrist sensor fails is our own invention, drawn wide. Nothing here is shown to an athlete.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy.signal import lfilter

from accuracy.core.traces.artefacts import Reason
from trainlog.trace import FloatArray

Work = Literal["steady", "intervals", "resistance"]
WORKS: tuple[Work, ...] = ("steady", "intervals", "resistance")


@dataclass(frozen=True)
class Fault:
    """One thing that went wrong, from its first second to the first second after."""

    start: int
    end: int
    reason: Reason


@dataclass(frozen=True, eq=False)
class SimulatedPair:
    """Both traces of a session and what is true of them.

    Attributes
    ----------
    reference, tested : array, shape (seconds,)
        Whole bpm, NaN where nothing was written.
    cadence : array, shape (seconds,)
        Whole steps a minute; around zero work it still counts, as arms swing.
    faults : tuple of Fault
        Of the tested trace.
    """

    reference: FloatArray
    tested: FloatArray
    cadence: FloatArray
    faults: tuple[Fault, ...]


def wander(rng: np.random.Generator, seconds: int, sd: float, memory: float) -> FloatArray:
    """First-order autoregressive noise around zero.

    Parameters
    ----------
    rng : Generator
        Source of chance.
    seconds : int
        Length.
    sd : float
        Standard deviation over a long time.
    memory : float
        Seconds over which the correlation falls to 1/e.

    Returns
    -------
    array, shape (seconds,)
        The noise.
    """
    keep = np.exp(-1 / memory)
    pushes = rng.normal(0.0, sd * np.sqrt(1 - keep**2), seconds)
    pushes[:1] = rng.normal(0.0, sd, min(seconds, 1))
    return lfilter([1.0], [1.0, -keep], pushes)


def heart(rng: np.random.Generator, seconds: int, work: Work) -> FloatArray:
    """Heart rate of a session: a goal that the work sets, followed with first-order kinetics.

    Parameters
    ----------
    rng : Generator
        Source of chance.
    seconds : int
        Length.
    work : {'steady', 'intervals', 'resistance'}
        Hills and slow drift; hard efforts of 30 to 240 s; sets of 25 to 70 s.

    Returns
    -------
    array, shape (seconds,)
        bpm, not rounded.
    """
    if work == "steady":
        goal = rng.uniform(125, 155) + np.linspace(0, rng.uniform(0, 12), seconds)
        goal = goal + wander(rng, seconds, rng.uniform(2, 5), rng.uniform(60, 180))
        goal[: rng.integers(30, 120)] = 95
    else:
        low, high, efforts, rests = (
            (rng.uniform(105, 125), (150.0, 182.0), (30, 240), (30, 180))
            if work == "intervals"
            else (rng.uniform(85, 100), (115.0, 155.0), (25, 70), (60, 180))
        )
        goal, second = np.full(seconds, low), int(rng.integers(60, 300))
        while second < seconds:
            effort = int(rng.integers(*efforts))
            goal[second : second + effort] = rng.uniform(*high)
            second += effort + int(rng.integers(*rests))
    return follow(goal, float(goal[0]) - 15, rng.uniform(20, 40), rng.uniform(30, 60)) + wander(
        rng, seconds, rng.uniform(0.8, 2.0), rng.uniform(10, 30)
    )


def follow(goal: FloatArray, start: float, up: float, down: float) -> FloatArray:
    """Follow a goal with one time constant in seconds when rising and another when falling."""
    course, value = np.empty(len(goal)), start
    for second, aim in enumerate(goal.tolist()):
        value += (aim - value) / (up if aim > value else down)
        course[second] = value
    return course


def steps(rng: np.random.Generator, seconds: int, sd: float) -> FloatArray:
    """Cadence in whole steps a minute around 155 to 182, wandering by ``sd``."""
    return np.round(rng.uniform(155, 182) + wander(rng, seconds, sd, 40))


def simulate_pair(
    rng: np.random.Generator,
    *,
    seconds: int = 2400,
    work: Work = "steady",
    error_sd: float = 2.0,
    error_memory: float = 10.0,
    cadence_sd: float = 2.5,
    faults: tuple[Reason, ...] = (),
) -> SimulatedPair:
    """One session with a reference and a tested sensor on one clock, without a lag of the sensor.

    Parameters
    ----------
    rng : Generator
        Source of chance.
    seconds : int
        Length.
    work : {'steady', 'intervals', 'resistance'}
        See ``heart``.
    error_sd, error_memory : float
        Standard deviation (bpm) and memory (seconds) of the tested sensor's quick error. A slow one of the
        same size with a memory of ten minutes and a compressed scale (up to 15%) come on top.
    cadence_sd : float
        bpm by which cadence wanders; below 1 it is nearly constant.
    faults : tuple of Reason
        What goes wrong, once each: drop-out (35 to 300 s), flat line (60 to 360 s), before lock-on (60 to
        230 s near rest, then a climb within 3 to 20 s), step-rate lock (150 to 800 s, come and gone within 3
        to 15 s).

    Returns
    -------
    SimulatedPair
        With the faults as they were put in, in the order given.
    """
    rate = heart(rng, seconds, work)
    cadence = steps(rng, seconds, cadence_sd)
    reference = np.round(rate + wander(rng, seconds, 0.6, 3.0))
    scale = 1 - rng.uniform(0, 0.15)
    reading = rate.mean() + scale * (rate - rate.mean())
    reading = reading + wander(rng, seconds, error_sd, error_memory) + wander(rng, seconds, error_sd, 600.0)
    done = []
    taken = np.zeros(seconds, dtype=bool)
    taken[:400] = True
    for reason in faults:
        fault = _place(rng, seconds, taken, reason)
        taken[max(fault.start - 60, 0) : fault.end + 60] = True
        _spoil(rng, reading, cadence, fault)
        done.append(fault)
    tested = np.round(reading)
    for fault in done:
        if fault.reason is Reason.FLAT_LINE:
            tested[fault.start : fault.end] = tested[fault.start]
    return SimulatedPair(reference, tested, cadence, tuple(done))


LENGTHS = {
    Reason.DROP_OUT: (35, 300),
    Reason.FLAT_LINE: (60, 360),
    Reason.BEFORE_LOCK_ON: (60, 230),
    Reason.STEP_RATE_LOCK: (150, 800),
}
"""Shortest and longest fault in seconds (ours)."""


def _place(rng: np.random.Generator, seconds: int, taken: np.ndarray, reason: Reason) -> Fault:
    """Find a place that no other fault has, at the start for the time before lock-on."""
    length = int(rng.integers(*LENGTHS[reason]))
    if reason is Reason.BEFORE_LOCK_ON:
        return Fault(0, length, reason)
    for _ in range(100):
        start = int(rng.integers(0, seconds - length))
        if not taken[start : start + length].any():
            return Fault(start, start + length, reason)
    raise ValueError("the session is too short for so many faults")


def _spoil(rng: np.random.Generator, reading: FloatArray, cadence: FloatArray, fault: Fault) -> None:
    """Put a fault into the reading, in place."""
    there = slice(fault.start, fault.end)
    length = fault.end - fault.start
    if fault.reason is Reason.DROP_OUT:
        reading[there] = np.nan
    elif fault.reason is Reason.STEP_RATE_LOCK:
        taken = np.minimum(np.arange(length), np.arange(length)[::-1]) / rng.integers(3, 15)
        steps_read = cadence[there] + wander(rng, length, 0.8, 8.0)
        reading[there] += taken.clip(0, 1) * (steps_read - reading[there])
    elif fault.reason is Reason.BEFORE_LOCK_ON:
        climb = int(rng.integers(3, 20))
        locked = np.clip((np.arange(length) - (length - climb)) / climb, 0, 1)
        low = rng.uniform(65, 88) + wander(rng, length, 3.0, 30.0)
        reading[there] = (1 - locked) * low + locked * reading[there]
