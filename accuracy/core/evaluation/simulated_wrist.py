"""How an invented wrist sensor errs, one trouble at a time.

How often and how much is ours throughout, drawn wide: a personal mean for each activity, and around it a size
for each session (a looser strap, colder skin). Roughness of the trace is drawn apart from every size, so that
it tells nothing of them; a size shows only in what it does to the trace.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from scipy.signal import lfilter

from accuracy.core.evaluation.simulated_work import Body, Work
from accuracy.core.traces.simulate_traces import wander
from trainlog.trace import FloatArray

Chance = Callable[[str], np.random.Generator]
"""A source of chance of its own for each purpose."""


class Trouble(StrEnum):
    """What can be switched on, one by one."""

    LATE_LOCK_ON = "late lock-on"
    LAG = "lag"
    GRIP = "grip"
    RANDOM_SCALE = "random scale"
    STEP_RATE_LOCK = "step-rate lock"
    WRIST_DROP_OUTS = "wrist drop-outs"
    STRAP_DROP_OUTS = "strap drop-outs"
    DRY_STRAP = "dry strap"
    CLOCK_OFFSET = "clock offset"
    FIRMWARE_DRIFT = "firmware drift"
    CHOSEN_STRAP_DAYS = "chosen strap days"


SENSOR_TROUBLE = frozenset(
    {
        Trouble.LATE_LOCK_ON,
        Trouble.LAG,
        Trouble.GRIP,
        Trouble.RANDOM_SCALE,
        Trouble.STEP_RATE_LOCK,
        Trouble.WRIST_DROP_OUTS,
    }
)
"""What is on in the ordinary development run."""

GRIP_MEANS: Mapping[str, tuple[float, float]] = {
    "run": (0.0, 0.10),
    "ride": (0.0, 0.08),
    "interval-run": (0.0, 0.16),
    "lifting": (0.05, 0.65),
    "mixed-intervals": (0.03, 0.42),
}
"""Lowest and highest personal mean share of the rate above easy work that full strain hides (ours)."""

SCALE_SPREADS: Mapping[str, tuple[float, float]] = {
    "run": (0.010, 0.035),
    "ride": (0.010, 0.035),
    "interval-run": (0.015, 0.05),
    "lifting": (0.03, 0.09),
    "mixed-intervals": (0.03, 0.10),
}
"""Lowest and highest personal spread between sessions of the share by which the rate is misread (ours)."""


@dataclass(frozen=True)
class WristHabit:
    """How one sensor on one athlete errs in one activity.

    Attributes
    ----------
    grip, grip_spread : float
        Mean share hidden at full strain, and log standard deviation between sessions.
    grip_memory : float
        Seconds for which strain goes on hiding the pulse.
    scale, scale_spread : float
        Mean and standard deviation between sessions of the misread share of the rate above resting.
    late, late_seconds : float
        Share of sessions that start unlocked, and for how long in the middle.
    lag, delay : float
        Seconds of smoothing and of pure delay.
    locked : float
        Share of sessions with steps that are partly read as steps.
    drop_outs : float
        A session hour.
    noise, noise_memory : float
        Quick error in bpm and its memory in seconds.
    update_grip, update_scale : float
        What a firmware update multiplies ``grip`` by, and adds to the misread share.
    """

    grip: float
    grip_spread: float
    grip_memory: float
    scale: float
    scale_spread: float
    late: float
    late_seconds: float
    lag: float
    delay: float
    locked: float
    drop_outs: float
    noise: float
    noise_memory: float
    update_grip: float
    update_scale: float


@dataclass(frozen=True)
class Wearing:
    """What is the same for one sensor on one athlete whatever the activity.

    Attributes
    ----------
    quality : float
        Factor on every size, 1 in the middle, below 1 for a good fit.
    late, late_seconds, lag, delay, locked, drop_outs, noise : float
        As in ``WristHabit``.
    update_grip, update_scale : float
        As in ``WristHabit``.
    """

    quality: float
    late: float
    late_seconds: float
    lag: float
    delay: float
    locked: float
    drop_outs: float
    noise: float
    update_grip: float
    update_scale: float


def draw_wearing(rng: np.random.Generator) -> Wearing:
    """Draw what one sensor is like on one athlete (ours)."""
    return Wearing(
        quality=float(np.exp(rng.normal(0.0, 0.3))),
        late=rng.uniform(0.05, 0.7),
        late_seconds=rng.uniform(40, 150),
        lag=rng.uniform(5, 25),
        delay=rng.uniform(0, 12),
        # Two athletes in five never see it; the others mostly seldom.
        locked=0.0 if rng.random() < 0.4 else 0.3 * rng.beta(1.0, 2.0),
        drop_outs=rng.uniform(0, 2.5),
        noise=rng.uniform(0.5, 2.2),
        update_grip=float(np.exp(rng.choice([-1, 1]) * rng.uniform(0.2, 0.7))),
        update_scale=float(rng.choice([-1, 1]) * rng.uniform(0.02, 0.09)),
    )


def draw_wrist_habit(rng: np.random.Generator, activity: str, wearing: Wearing) -> WristHabit:
    """Draw how a sensor errs on an athlete in one activity (ours)."""
    quality = wearing.quality
    spread = rng.uniform(*SCALE_SPREADS[activity]) * quality**0.5
    # Some athletes' sensors read lifting too high: they lock on to the set's own rhythm, not the pulse.
    over = rng.uniform(0.05, 0.2) if activity == "lifting" and rng.random() < 0.2 else 0.0
    grip = rng.uniform(*GRIP_MEANS[activity]) * quality * (0.3 if over else 1.0)
    return WristHabit(
        grip=min(grip, 0.8),
        grip_spread=rng.uniform(0.25, 0.7),
        grip_memory=rng.uniform(8, 50),
        scale=over + rng.normal(0.0, 0.5 * spread),
        scale_spread=spread,
        late=min(wearing.late * rng.uniform(0.6, 1.4), 1.0),
        late_seconds=wearing.late_seconds * rng.uniform(0.7, 1.4),
        lag=wearing.lag * rng.uniform(0.7, 1.5),
        delay=wearing.delay,
        locked=wearing.locked,
        drop_outs=wearing.drop_outs * rng.uniform(0.5, 1.5),
        noise=wearing.noise * rng.uniform(0.7, 1.5),
        noise_memory=rng.uniform(4, 20),
        update_grip=wearing.update_grip,
        update_scale=wearing.update_scale * rng.uniform(0.6, 1.4),
    )


def read_wrist(
    chance: Chance,
    work: Work,
    habit: WristHabit,
    body: Body,
    switched_on: frozenset[Trouble],
    *,
    updated: bool,
) -> tuple[FloatArray, frozenset[Trouble], int]:
    """Write down what the wrist makes of a session.

    Parameters
    ----------
    chance : callable
        Source of chance for each purpose.
    work : Work
        What happened.
    habit : WristHabit
        How the sensor errs.
    body : Body
        Rates in bpm.
    switched_on : frozenset of Trouble
        Others are ignored.
    updated : bool
        Whether the firmware is the later one.

    Returns
    -------
    tested : array, shape (seconds,)
        Whole bpm, NaN where nothing.
    touched : frozenset of Trouble
        Those of the wrist that moved the trace by half a bpm somewhere.
    offset : int
        Seconds by which the wrist's trace comes late on the strap's clock.
    """
    updated = updated and Trouble.FIRMWARE_DRIFT in switched_on
    grip = habit.grip * (habit.update_grip if updated else 1.0)
    # In the order in which they come about: blood flow, reading, smoothing, and what replaces the reading.
    steps: tuple[tuple[Trouble, Callable[[np.random.Generator, FloatArray], FloatArray]], ...] = (
        (Trouble.GRIP, lambda rng, rate: _grip(rng, rate, work.arm, habit, grip, body)),
        (Trouble.RANDOM_SCALE, lambda rng, rate: _scale(rng, rate, habit, body)),
        (Trouble.FIRMWARE_DRIFT, lambda _, rate: _rescale(rate, habit.update_scale * updated, body)),
        (Trouble.LAG, lambda rng, rate: _lag(rng, rate, habit)),
        (Trouble.STEP_RATE_LOCK, lambda rng, rate: _step_rate_lock(rng, rate, work.cadence, habit)),
        (Trouble.LATE_LOCK_ON, lambda rng, rate: _late_lock_on(rng, rate, habit, body)),
    )
    reading, touched = work.truth, set()
    for trouble, happen in steps:
        if trouble in switched_on:
            changed = happen(chance(trouble), reading)
            if np.abs(changed - reading).max() >= 0.5:
                touched.add(trouble)
            reading = changed
    rng = chance("roughness")
    size = habit.noise * np.exp(rng.normal(0.0, 0.3))
    rough = reading + wander(rng, len(reading), size, habit.noise_memory)
    # Only steps are read far above the maximum heart rate.
    reading = np.round(np.minimum(rough, np.maximum(reading, body.maximum + 4))).clip(31)
    if Trouble.WRIST_DROP_OUTS in switched_on:
        gone = _drop_outs(chance(Trouble.WRIST_DROP_OUTS), len(reading), habit)
        reading[gone] = np.nan
        touched |= {Trouble.WRIST_DROP_OUTS} if gone.any() else set()
    offset = 0
    if Trouble.CLOCK_OFFSET in switched_on:
        rng = chance(Trouble.CLOCK_OFFSET)
        offset = int(rng.choice([-1, 1]) * rng.integers(1, 61))
        reading = _shift(reading, offset)
        touched.add(Trouble.CLOCK_OFFSET)
    return reading, frozenset(touched), offset


def _smooth(rate: FloatArray, constant: float) -> FloatArray:
    """First-order smoothing with a time constant in seconds, at rest in the first value."""
    keep = np.exp(-1 / constant)
    smoothed, _ = lfilter([1 - keep], [1.0, -keep], rate, zi=[keep * rate[0]])
    return np.asarray(smoothed)


def _shift(rate: FloatArray, late: int) -> FloatArray:
    """Move a trace later (or earlier, if negative); NaN where nothing is known."""
    moved = np.full(len(rate), np.nan)
    if late >= 0:
        moved[late:] = rate[: len(rate) - late]
    else:
        moved[:late] = rate[-late:]
    return moved


def _rescale(rate: FloatArray, share: FloatArray | float, body: Body) -> FloatArray:
    """Misread the rate above resting by a share, never far beyond the maximum."""
    return np.minimum(rate + share * (rate - body.resting), body.maximum + 3)


def _grip(
    rng: np.random.Generator, rate: FloatArray, arm: FloatArray, habit: WristHabit, mean: float, body: Body
) -> FloatArray:
    """Hide part of what is above easy work while the forearm strains, and follow its rises late."""
    size = min(mean * np.exp(rng.normal(0.0, habit.grip_spread)), 0.9)
    strain = _smooth(arm, habit.grip_memory * np.exp(rng.normal(0.0, 0.2)))
    # Within a session the hold changes too, slowly: by the mean's measure, which tells nothing of the size.
    hidden = strain * (size + wander(rng, len(rate), 0.2 * mean, 240.0))
    easy = body.resting + 0.15 * (body.maximum - body.resting)
    late = _smooth(rate, 3.0 + 40.0 * size)
    seen = np.minimum(rate, rate + strain * (late - rate))
    return seen - hidden.clip(0, 0.9) * np.maximum(seen - easy, 0.0)


def _scale(rng: np.random.Generator, rate: FloatArray, habit: WristHabit, body: Body) -> FloatArray:
    """Misread the rate by a share of the session's own, in some sessions only from or until some time."""
    share = rng.normal(habit.scale, habit.scale_spread)
    course = share + wander(rng, len(rate), 0.3 * habit.scale_spread, 500.0)
    turn, part = int(rng.uniform(0.2, 0.8) * len(rate)), rng.random()
    if part < 0.2:
        course[:turn] *= 0.2
    elif part < 0.4:
        course[turn:] *= 0.2
    return _rescale(rate, course, body)


def _lag(rng: np.random.Generator, rate: FloatArray, habit: WristHabit) -> FloatArray:
    """Smooth over 5 to 40 s and delay on top."""
    constant = float(np.clip(habit.lag * np.exp(rng.normal(0.0, 0.25)), 5, 40))
    delay = int(habit.delay * rng.uniform(0.6, 1.4))
    late = np.concatenate([np.full(delay, rate[0]), rate[: len(rate) - delay]])
    return _smooth(late, constant)


def _step_rate_lock(
    rng: np.random.Generator, rate: FloatArray, cadence: FloatArray | None, habit: WristHabit
) -> FloatArray:
    """Read the steps instead of the pulse, for a part or nearly all of some sessions."""
    if cadence is None or rng.random() >= habit.locked:
        return rate
    seconds = len(rate)
    length = int(seconds * (rng.uniform(0.85, 1.0) if rng.random() < 0.25 else rng.uniform(0.05, 0.6)))
    start = int(rng.integers(0, seconds - length + 1))
    since = np.arange(seconds) - start
    taken = (np.minimum(since, length - since) / rng.uniform(3, 15)).clip(0, 1)
    # Arms that swing to no steps leave nothing to lock on to.
    taken = _smooth(taken * (cadence > 120), 3.0)
    return rate + taken * (cadence + wander(rng, seconds, 0.8, 8.0) - rate)


def _late_lock_on(rng: np.random.Generator, rate: FloatArray, habit: WristHabit, body: Body) -> FloatArray:
    """Read low, or wander, for the first 30 to 300 s of some sessions, then jump to the pulse."""
    if rng.random() >= habit.late:
        return rate
    length = int(np.clip(habit.late_seconds * np.exp(rng.normal(0.0, 0.5)), 30, 300))
    level = body.resting + rng.uniform(0.05, 0.35) * (body.maximum - body.resting)
    astray = level + wander(rng, length, rng.uniform(0.5, 8.0), rng.uniform(20, 90))
    climb = rng.integers(2, 20)
    locked = ((np.arange(length) - (length - climb)) / climb).clip(0, 1)
    read = rate.copy()
    read[:length] += (1 - locked) * (astray - read[:length])
    return read


def _drop_outs(rng: np.random.Generator, seconds: int, habit: WristHabit) -> np.ndarray:
    """Seconds in which the wrist writes nothing, boolean, shape (seconds,)."""
    gone = np.zeros(seconds, dtype=bool)
    for _ in range(rng.poisson(habit.drop_outs * seconds / 3600)):
        start, length = int(rng.integers(0, seconds - 30)), int(np.exp(rng.uniform(np.log(8), np.log(200))))
        gone[start : start + length] = True
    return gone
