"""Invented athletes whose truth is known: what a learner of error profiles is developed and measured on.

An athlete has a heart, habits of training and a sensor that errs in its own way in each activity; a session
is drawn from its own source of chance, so that sets of sessions nest. All sizes are ours, drawn wide. Nothing
here is shown to an athlete.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import partial
from types import MappingProxyType

import numpy as np

from accuracy.core.evaluation.simulated_strap import StrapHabit, draw_strap_habit, read_strap
from accuracy.core.evaluation.simulated_work import (
    ACTIVITIES,
    Body,
    WorkHabit,
    do_work,
    draw_habit,
    session_habit,
    stream,
)
from accuracy.core.evaluation.simulated_wrist import (
    SENSOR_TROUBLE,
    Trouble,
    WristHabit,
    draw_wearing,
    draw_wrist_habit,
    read_wrist,
)
from trainlog.load.trimp import MEN, WOMEN, Weighting, load_per_minute
from trainlog.trace import FloatArray

__all__ = [
    "ACTIVITIES",
    "SENSOR_TROUBLE",
    "SimulatedAthlete",
    "SimulatedSession",
    "Trouble",
    "simulate_athlete",
]

STRAP_TROUBLE = frozenset({Trouble.STRAP_DROP_OUTS, Trouble.DRY_STRAP})
"""What happens to the strap, and so only where one is worn."""

SHARES = np.linspace(0.0, 1.2, 121)
"""Shares of heart-rate reserve at which an even session's load a minute is tabulated."""


@dataclass(frozen=True)
class RatingHabit:
    """How an athlete rates a session on the ten-point scale.

    Attributes
    ----------
    offset, slope : float
        Points added, and factor on what the true intensity suggests.
    lifting : float
        Points added to resistance work, which feels harder than the heart shows.
    given : float
        Share of sessions rated.
    """

    offset: float
    slope: float
    lifting: float
    given: float


@dataclass(frozen=True, eq=False)
class SimulatedSession:
    """One session, what both sensors wrote, and what is true of it.

    Attributes
    ----------
    activity, family : str
        Key and value of ``ACTIVITIES``.
    day : int
        Days since the log began.
    truth : array, shape (seconds,)
        True heart rate in bpm, never NaN.
    reference, tested : array, shape (seconds,)
        What the strap and the wrist wrote, in whole bpm, NaN where nothing.
    cadence : array, shape (seconds,), or None
        Whole steps a minute; None for activities without steps.
    session_rpe : float or None
        Rating of the whole session, 1 to 10, None where it was not given.
    content : str
        Text that no other session of any athlete has.
    troubles : frozenset of Trouble
        Which really touched this session.
    clock_offset : int
        Seconds by which the wrist's trace comes late on the strap's clock.
    """

    activity: str
    family: str
    day: int
    truth: FloatArray
    reference: FloatArray
    tested: FloatArray
    cadence: FloatArray | None
    session_rpe: float | None
    content: str
    troubles: frozenset[Trouble]
    clock_offset: int = 0


@dataclass(frozen=True, eq=False)
class SimulatedAthlete:
    """One athlete with one wrist sensor and one strap.

    Attributes
    ----------
    seed : int
        From which everything follows.
    resting, maximum : float
        Heart rates in bpm.
    weighting : Weighting
        Of the training impulse.
    broad : bool
        Whether sessions of an activity differ widely.
    switched_on : frozenset of Trouble
        What may happen.
    firmware_day : int or None
        First day of the later firmware, None if ``Trouble.FIRMWARE_DRIFT`` is off.
    body : Body
        Rates and kinetics.
    work, wrist : mapping from activity
        Habits of training, and how the sensor errs.
    strap : StrapHabit
        How the strap fails.
    rating : RatingHabit
        How sessions are rated.
    chosen : float
        How much harder than usual the days are on which this athlete would choose to wear the strap.
    """

    seed: int
    resting: float
    maximum: float
    weighting: Weighting
    broad: bool
    switched_on: frozenset[Trouble]
    firmware_day: int | None
    body: Body
    work: Mapping[str, WorkHabit]
    wrist: Mapping[str, WristHabit]
    strap: StrapHabit
    rating: RatingHabit
    chosen: float

    def session(self, activity: str, index: int, *, paired: bool = True) -> SimulatedSession:
        """One session, the same whenever and among whatever others it is asked for.

        Parameters
        ----------
        activity : str
            One of ``ACTIVITIES``.
        index : int
            Which of the activity's sessions, from 0; about a week apart.
        paired : bool
            Whether the strap was worn. Without it the session is no harder than usual even with
            ``Trouble.CHOSEN_STRAP_DAYS``, and ``reference`` is what a faultless strap would have written.

        Returns
        -------
        SimulatedSession
            With both sensors' traces.
        """
        chance = partial(stream, self.seed, "session", activity, index)
        rng = chance("day")
        day = 7 * index + list(ACTIVITIES).index(activity) + int(rng.integers(0, 3))
        chosen = paired and Trouble.CHOSEN_STRAP_DAYS in self.switched_on
        hardness = self.chosen * chance(Trouble.CHOSEN_STRAP_DAYS).uniform(0.4, 1.6) if chosen else 0.0
        plan = session_habit(
            chance("plan"), activity, self.work[activity], broad=self.broad, hardness=hardness
        )
        work = do_work(chance("work"), activity, plan, self.body)
        updated = self.firmware_day is not None and day >= self.firmware_day
        tested, wrist_troubles, offset = read_wrist(
            chance, work, self.wrist[activity], self.body, self.switched_on, updated=updated
        )
        strap_on = self.switched_on if paired else self.switched_on - STRAP_TROUBLE
        reference, strap_troubles = read_strap(chance, work.truth, self.strap, self.body, strap_on)
        return SimulatedSession(
            activity=activity,
            family=ACTIVITIES[activity],
            day=day,
            truth=work.truth,
            reference=reference,
            tested=tested,
            cadence=work.cadence,
            session_rpe=self._rate(chance("rating"), work.truth, ACTIVITIES[activity]),
            content=f"{self.seed}/{activity}/{index}",
            troubles=wrist_troubles | strap_troubles | ({Trouble.CHOSEN_STRAP_DAYS} if chosen else set()),
            clock_offset=offset,
        )

    def _rate(self, rng: np.random.Generator, truth: FloatArray, family: str) -> float | None:
        """Rate a session by the even session of the same length and load, with 0.8 points of chance."""
        noise, given = rng.normal(0.0, 0.8), rng.random() < self.rating.given
        if not given:
            return None
        mean = load_per_minute(truth, self.resting, self.maximum, self.weighting).mean()
        share = np.interp(mean, load_per_minute(SHARES, 0.0, 1.0, self.weighting), SHARES)
        points = 1 + 10 * self.rating.slope * max(float(share) - 0.15, 0.0) ** 1.3
        points += self.rating.offset + noise + 0.6 * np.log(len(truth) / 3600)
        points += self.rating.lifting if family == "resistance" else 0.0
        return float(np.clip(np.round(points), 1, 10))


def simulate_athlete(
    seed: int, *, broad: bool, switched_on: frozenset[Trouble] = SENSOR_TROUBLE
) -> SimulatedAthlete:
    """Draw an athlete.

    Parameters
    ----------
    seed : int
        From which everything follows, not negative.
    broad : bool
        Whether sessions of an activity differ widely. Heart, habits and sensor are the same either way.
    switched_on : frozenset of Trouble
        What may happen. Heart, habits and sensor are the same whatever it is.

    Returns
    -------
    SimulatedAthlete
        Ready to be asked for sessions.
    """
    rng = stream(seed, "athlete")
    fitness = rng.uniform(0, 1)
    # The fitter the lower at rest and the quicker, with much left to chance.
    resting = float(np.clip(65 - 18 * fitness + rng.normal(0, 5), 42, 70))
    maximum = float(np.clip(rng.normal(186, 10), 165, 205))
    up = float(np.clip(38 - 16 * fitness + rng.normal(0, 5), 15, 45))
    down = float(np.clip(60 - 24 * fitness + rng.normal(0, 7), 25, 70))
    firmware_day = int(rng.integers(35, 70))
    rating = RatingHabit(
        offset=rng.normal(0.0, 0.8),
        slope=float(np.exp(rng.normal(0.0, 0.15))),
        lifting=rng.uniform(0.5, 3.0),
        given=rng.uniform(0.5, 0.9),
    )
    wearing = draw_wearing(stream(seed, "wearing"))
    return SimulatedAthlete(
        seed=seed,
        resting=resting,
        maximum=maximum,
        weighting=MEN if rng.random() < 0.5 else WOMEN,
        broad=broad,
        switched_on=switched_on,
        firmware_day=firmware_day if Trouble.FIRMWARE_DRIFT in switched_on else None,
        body=Body(resting, maximum, up, down),
        work=MappingProxyType({name: draw_habit(stream(seed, "work", name), name) for name in ACTIVITIES}),
        wrist=MappingProxyType(
            {name: draw_wrist_habit(stream(seed, "wrist", name), name, wearing) for name in ACTIVITIES}
        ),
        strap=draw_strap_habit(stream(seed, "strap")),
        rating=rating,
        chosen=float(rng.uniform(0.4, 1.2)),
    )
