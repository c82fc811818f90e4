"""What an invented chest strap writes, and how it fails when it is dry or the work is hard (sizes ours)."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from accuracy.core.evaluation.simulated_work import Body
from accuracy.core.evaluation.simulated_wrist import Chance, Trouble
from accuracy.core.traces.simulate_traces import wander
from trainlog.trace import FloatArray


@dataclass(frozen=True)
class StrapHabit:
    """How one strap on one athlete fails.

    Attributes
    ----------
    dry : float
        Share of sessions that start dry.
    dry_seconds : float
        How long it takes to sweat, in the middle.
    drop_outs : float
        Gaps a session hour.
    """

    dry: float
    dry_seconds: float
    drop_outs: float


def draw_strap_habit(rng: np.random.Generator) -> StrapHabit:
    """Draw how a strap fails on an athlete (ours)."""
    return StrapHabit(rng.uniform(0.3, 0.95), rng.uniform(80, 300), rng.uniform(1.0, 6.0))


def read_strap(
    chance: Chance, truth: FloatArray, habit: StrapHabit, body: Body, switched_on: frozenset[Trouble]
) -> tuple[FloatArray, frozenset[Trouble]]:
    """Write down what the strap makes of a session.

    Parameters
    ----------
    chance : callable
        Source of chance for each purpose.
    truth : array, shape (seconds,)
        True heart rate in bpm.
    habit : StrapHabit
        How the strap fails.
    body : Body
        Rates in bpm.
    switched_on : frozenset of Trouble
        Others than those of the strap are ignored.

    Returns
    -------
    reference : array, shape (seconds,)
        Whole bpm, NaN where nothing.
    touched : frozenset of Trouble
        Those of the strap that came about.
    """
    reading, touched = truth + wander(chance("strap"), len(truth), 0.6, 3.0), set()
    if Trouble.DRY_STRAP in switched_on:
        rng = chance(Trouble.DRY_STRAP)
        if rng.random() < habit.dry:
            _dry(rng, reading, habit, body)
            touched.add(Trouble.DRY_STRAP)
    reading = np.round(reading.clip(31, body.maximum + 4))
    if Trouble.STRAP_DROP_OUTS in switched_on:
        gone = _drop_outs(chance(Trouble.STRAP_DROP_OUTS), truth, habit, body)
        reading[gone] = np.nan
        touched |= {Trouble.STRAP_DROP_OUTS} if gone.any() else set()
    return reading, frozenset(touched)


def _dry(rng: np.random.Generator, reading: FloatArray, habit: StrapHabit, body: Body) -> None:
    """Misread the first 30 to 480 s, in place: too high, too low, or now one and now the other."""
    length = int(np.clip(habit.dry_seconds * np.exp(rng.normal(0.0, 0.4)), 30, 480))
    way, size = rng.integers(0, 3), rng.uniform(0.1, 0.4) * (body.maximum - body.resting)
    if way == 2:
        error = wander(rng, length, size, rng.uniform(3, 30))
    else:
        error = (size if way == 0 else -size) + wander(rng, length, 0.2 * size, 20.0)
    # Sweat comes within a few seconds, not at once.
    reading[:length] += error * (np.arange(length)[::-1] / 8.0).clip(0, 1)


def _drop_outs(rng: np.random.Generator, truth: FloatArray, habit: StrapHabit, body: Body) -> np.ndarray:
    """Seconds in which the strap writes nothing, boolean, shape (seconds,); they start where it is hard."""
    gone = np.zeros(len(truth), dtype=bool)
    share = ((truth - body.resting) / (body.maximum - body.resting)).clip(0.02)
    course = np.cumsum(share**6)
    count = rng.poisson(habit.drop_outs * len(truth) / 3600)
    starts = np.searchsorted(course, rng.random(count) * course[-1])
    lengths = np.exp(rng.uniform(np.log(10), np.log(240), count)).astype(int)
    for start, length in zip(starts.tolist(), lengths.tolist(), strict=True):
        gone[start : start + length] = True
    return gone
