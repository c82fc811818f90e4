"""The true heart rate of an invented session: what work was done and how the heart followed it.

Every range is ours, drawn wide, except the kinetics (15 to 45 s up, 25 to 70 s down), which span what is
published for healthy adults. A session is a row of blocks of constant work, so that the heart's course has a
closed form in each block and no loop runs over seconds.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import exp
from zlib import crc32

import numpy as np
from numpy.typing import NDArray

from accuracy.core.traces.simulate_traces import wander
from trainlog.trace import FloatArray

ACTIVITIES: Mapping[str, str] = {
    "run": "steady",
    "ride": "steady",
    "interval-run": "intervals",
    "lifting": "resistance",
    "mixed-intervals": "mixed",
}
"""Activity to its family."""

WHOLE_LENGTH = (20.0, 100.0)
"""Shortest and longest session in minutes (ours)."""


def stream(seed: int, *labels: str | int) -> np.random.Generator:
    """Source of chance of its own for one purpose.

    Each purpose has its own, so that switching one trouble on, or asking for other sessions in between,
    moves no other draw.
    """
    return np.random.default_rng([seed, *(crc32(str(label).encode()) for label in labels)])


@dataclass(frozen=True)
class Body:
    """The athlete's heart: rates in bpm, time constants in seconds."""

    resting: float
    maximum: float
    up: float
    down: float


@dataclass(frozen=True)
class Range:
    """What an activity can ask for, as lowest and highest (ours); shares are of heart-rate reserve.

    Attributes
    ----------
    hard, easy : tuple
        Share of reserve that the work of an effort and of a rest (or a warm-up) aims at.
    effort, rest : tuple
        Seconds.
    arm : tuple
        Strain of the forearm in an effort, 0 to 1.
    resting_arm : float
        Strain of the forearm in a rest.
    steps : tuple or None
        Steps a minute in an effort.
    """

    hard: tuple[float, float]
    easy: tuple[float, float]
    effort: tuple[float, float]
    rest: tuple[float, float]
    arm: tuple[float, float]
    resting_arm: float
    steps: tuple[float, float] | None


RANGES: Mapping[str, Range] = {
    "run": Range((0.52, 0.78), (0.40, 0.55), (60, 400), (60, 400), (0.15, 0.45), 0.15, (152, 182)),
    "ride": Range((0.42, 0.74), (0.30, 0.50), (60, 500), (60, 500), (0.3, 0.9), 0.3, None),
    "interval-run": Range((0.86, 1.02), (0.45, 0.66), (30, 240), (30, 180), (0.5, 1.0), 0.2, (162, 190)),
    "lifting": Range((0.62, 1.00), (0.15, 0.34), (20, 60), (60, 180), (0.8, 1.0), 0.3, None),
    "mixed-intervals": Range((0.82, 1.04), (0.40, 0.66), (20, 120), (5, 45), (0.7, 1.0), 0.3, (150, 178)),
}


@dataclass(frozen=True)
class WorkHabit:
    """What an athlete usually does in an activity.

    Attributes
    ----------
    minutes, hard, easy, effort, rest, arm
        As in ``Range``.
    hills : float
        Standard deviation of the work between efforts, share of reserve.
    drift : float
        Share of reserve by which the rate creeps up over an hour of the same work.
    steps : float
        Steps a minute in efforts, 0 for activities without steps.
    """

    minutes: float
    hard: float
    easy: float
    effort: float
    rest: float
    arm: float
    hills: float
    drift: float
    steps: float


@dataclass(frozen=True, eq=False)
class Work:
    """What happened in a session, whatever any sensor said.

    Attributes
    ----------
    truth : array, shape (seconds,)
        True heart rate in bpm, not rounded.
    arm : array, shape (seconds,)
        Strain of the forearm, 0 to 1.
    cadence : array, shape (seconds,), or None
        Whole steps a minute.
    """

    truth: FloatArray
    arm: FloatArray
    cadence: FloatArray | None


def draw_habit(rng: np.random.Generator, activity: str) -> WorkHabit:
    """Draw what an athlete usually does in an activity (ours)."""
    span = RANGES[activity]
    return WorkHabit(
        minutes=rng.uniform(30, 75),
        hard=rng.uniform(*span.hard),
        easy=rng.uniform(*span.easy),
        effort=_between(rng, span.effort),
        rest=_between(rng, span.rest),
        arm=rng.uniform(*span.arm),
        hills=rng.uniform(0.02, 0.08),
        drift=rng.uniform(0.0, 0.07),
        steps=rng.uniform(*span.steps) if span.steps else 0.0,
    )


def session_habit(
    rng: np.random.Generator, activity: str, habit: WorkHabit, *, broad: bool, hardness: float
) -> WorkHabit:
    """Draw one session around, or far from, the habit.

    Parameters
    ----------
    rng : Generator
        Source of chance.
    activity : str
        One of ``ACTIVITIES``.
    habit : WorkHabit
        What the athlete usually does.
    broad : bool
        Whether sessions differ widely: intensity by 10% of reserve rather than 3.5%, and length, efforts and
        rests anywhere in the activity's range rather than within about a tenth of the habit.
    hardness : float
        How much harder than usual, 0 to about 1.5: 7% of reserve and a third of arm strain at 1.

    Returns
    -------
    WorkHabit
        The plan of this session.
    """
    span = RANGES[activity]
    shift = rng.normal(0.0, 0.10 if broad else 0.035)
    tenths = np.exp(rng.normal(0.0, 0.1, 4)).tolist()
    wide = (_between(rng, WHOLE_LENGTH), _between(rng, span.effort), _between(rng, span.rest))
    usual = (habit.minutes * tenths[0], habit.effort * tenths[1], habit.rest * tenths[2])
    minutes, effort, rest = wide if broad else usual
    return WorkHabit(
        minutes=min(max(minutes, WHOLE_LENGTH[0]), WHOLE_LENGTH[1]),
        hard=min(max(habit.hard + shift + 0.07 * hardness, 0.25), 1.06),
        easy=min(max(habit.easy + 0.6 * shift + 0.04 * hardness, 0.10), 0.80),
        effort=effort,
        rest=rest,
        arm=min(habit.arm * tenths[3] * (1 + 0.33 * hardness), 1.3),
        hills=habit.hills,
        drift=habit.drift,
        steps=habit.steps + 20 * shift if habit.steps else 0.0,
    )


def do_work(rng: np.random.Generator, activity: str, plan: WorkHabit, body: Body) -> Work:
    """Do a planned session: blocks of work, and the heart that follows them.

    Parameters
    ----------
    rng : Generator
        Source of chance.
    activity : str
        One of ``ACTIVITIES``.
    plan : WorkHabit
        Result of ``session_habit``.
    body : Body
        Rates and kinetics.

    Returns
    -------
    Work
        Of ``round(60 * plan.minutes)`` seconds.
    """
    seconds = round(60 * plan.minutes)
    goals, lengths, arms, steps = _blocks(rng, activity, plan, seconds)
    which = np.repeat(np.arange(len(lengths)), lengths)[:seconds]
    share = follow_blocks(goals, lengths, float(rng.uniform(0.08, 0.30)), body.up, body.down)[:seconds]
    share += plan.drift * np.arange(seconds) / 3600
    rate = body.resting + (body.maximum - body.resting) * share
    rate += wander(rng, seconds, rng.uniform(0.7, 2.2), rng.uniform(8, 40))
    truth = np.clip(rate, body.resting - 5, body.maximum + 2)
    cadence = None
    if RANGES[activity].steps is not None:
        cadence = np.round((steps[which] + wander(rng, seconds, rng.uniform(1.0, 3.5), 30.0)).clip(0))
    return Work(truth, arms[which], cadence)


def follow_blocks(
    goals: FloatArray, lengths: NDArray[np.int64], start: float, up: float, down: float
) -> FloatArray:
    """Follow a row of constant goals with first-order kinetics, another time constant in each direction.

    Parameters
    ----------
    goals, lengths : array, shape (blocks,)
        What each block aims at, and its whole seconds.
    start : float
        Value before the first second.
    up, down : float
        Time constants in seconds when rising and when falling.

    Returns
    -------
    array, shape (sum of lengths,)
        In the unit of the goals.
    """
    value, starts, constants = start, [], []
    for goal, length in zip(goals.tolist(), lengths.tolist(), strict=True):
        constant = up if goal > value else down
        starts.append(value)
        constants.append(constant)
        value = goal + (value - goal) * exp(-length / constant)
    first = np.cumsum(lengths) - lengths
    since = np.arange(1, lengths.sum() + 1) - np.repeat(first, lengths)
    decay = np.exp(-since / np.repeat(constants, lengths))
    return np.repeat(goals, lengths) + np.repeat(np.asarray(starts) - goals, lengths) * decay


def _between(rng: np.random.Generator, ends: tuple[float, float]) -> float:
    """Draw so that each doubling is as likely as the next."""
    return float(np.exp(rng.uniform(*np.log(ends))))


def _blocks(
    rng: np.random.Generator, activity: str, plan: WorkHabit, seconds: int
) -> tuple[FloatArray, NDArray[np.int64], FloatArray, FloatArray]:
    """Lay out warm-up, then efforts and rests in turn until the session is over.

    Returns
    -------
    goals, lengths, arms, steps : array, shape (blocks,)
        Share of reserve, seconds, strain, and steps a minute.
    """
    span = RANGES[activity]
    warm_up = int(rng.uniform(90, min(600, 0.2 * seconds)))
    rounds = int(2 * (seconds - warm_up) / (plan.effort + plan.rest)) + 4
    lengths = np.empty(2 * rounds + 1)
    lengths[0] = warm_up
    lengths[1::2] = plan.effort * np.exp(rng.normal(0.0, 0.15, rounds))
    lengths[2::2] = plan.rest * np.exp(rng.normal(0.0, 0.20, rounds))
    goals = np.full(2 * rounds + 1, plan.easy)
    arms = np.full(2 * rounds + 1, span.resting_arm)
    steps = np.full(2 * rounds + 1, max(plan.steps - rng.uniform(5, 60), 0.0))
    steps[0] = max(plan.steps - 8, 0.0)
    goals[1::2] = plan.hard + rng.normal(0.0, plan.hills, rounds)
    arms[1::2] = plan.arm
    steps[1::2] = plan.steps + rng.normal(0.0, 3.0, rounds)
    family = ACTIVITIES[activity]
    if family == "steady":
        # Down the other side of a hill, not a rest: the same work again, a little less of it.
        goals[2::2] = plan.hard - np.abs(rng.normal(0.0, plan.hills, rounds))
        arms[2::2] = plan.arm * rng.uniform(0.5, 1.0, rounds)
        steps[2::2] = steps[1::2]
    elif family == "mixed":
        # Lifting-like, rowing-like or running-like by chance: arm, work, and what a wrist counts as steps.
        kind = rng.integers(0, 3, rounds)
        arms[1::2] *= np.array([1.0, 0.85, 0.4])[kind]
        goals[1::2] *= np.array([0.90, 1.0, 0.97])[kind]
        steps[1::2] = np.where(kind == 2, steps[1::2], np.array([20.0, 45.0, 0.0])[kind])
        steps[2::2] = rng.uniform(0, 70, rounds)
    keep = int(np.searchsorted(np.cumsum(np.round(lengths).clip(3)), seconds)) + 1
    whole = np.round(lengths).clip(3).astype(np.int64)
    return goals[:keep].clip(0.05, 1.06), whole[:keep], arms[:keep], steps[:keep]
