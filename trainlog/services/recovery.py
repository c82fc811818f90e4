"""Recovery hours of sessions, of now, and as mornings showed them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

import numpy as np
from django.db.models import Exists, OuterRef
from django.utils import timezone

from trainlog.load.draws import DRAWS, interval, rounded_probability
from trainlog.load.recovery import RECOVERY_HOURS, hours_until_ready, recovery_hours
from trainlog.models import Athlete, IntensityEstimate, LoadEstimate, Measure, Part, TrendWeek, Workout
from trainlog.services.lines import WEEK, PartLine, lines_between, monday_of
from trainlog.services.trend_bytes import state_of
from trainlog.trace import FloatArray

LONGEST = timedelta(hours=max(high for _, high in RECOVERY_HOURS))
"""Time after which no session is estimated to hold anyone back."""


@dataclass(frozen=True, eq=False)
class Recovery:
    """Estimated recovery from one workout.

    Attributes
    ----------
    workout : Workout
    activities : sequence of str
        Names of its activities, each once.
    hours : array, shape (DRAWS,)
        From its end until ready for the next hard session.
    outdated : bool
        Whether one of its parts is being estimated anew.
    """

    workout: Workout
    activities: Sequence[str]
    hours: FloatArray
    outdated: bool

    @property
    def range(self) -> tuple[float, float, float]:
        """Low, median and high hours, 80%."""
        return interval(self.hours)

    @property
    def ready(self) -> tuple[datetime, datetime]:
        """Instants between which the athlete is likely ready, 80%."""
        low, _, high = self.range
        return self.workout.end + timedelta(hours=low), self.workout.end + timedelta(hours=high)


@dataclass(frozen=True, eq=False)
class Now:
    """What recent sessions leave for now.

    Attributes
    ----------
    hours : array, shape (DRAWS,)
        From now until ready.
    longest : Recovery
        Of the session that takes longest in most draws.
    asked : datetime
        The instant from which the hours count.
    """

    hours: FloatArray
    longest: Recovery
    asked: datetime

    @property
    def range(self) -> tuple[float, float, float]:
        """Low, median and high hours, 80%."""
        return interval(self.hours)

    @property
    def ready(self) -> tuple[datetime, datetime]:
        """Instants between which the athlete is likely ready, 80%; the first may be the one asked about."""
        low, _, high = self.range
        return self.asked + timedelta(hours=low), self.asked + timedelta(hours=high)

    @property
    def per_cent_ready(self) -> int:
        """Probability in per cent, to the nearest 5, that no session holds back any more."""
        return rounded_probability(float(np.mean(self.hours <= 0)))


def recoveries_between(athlete: Athlete, first: date, last: date) -> list[Recovery]:
    """Recovery from each workout of a span of days that has estimates, oldest first.

    Parameters
    ----------
    athlete : Athlete
    first, last : date
        Local days, both included.

    Returns
    -------
    list of Recovery
        A workout of which a part has no estimate yet is left out. Its load is set against the athlete's
        chronic load at the end of the week before; while there is none, it counts as a usual day's.
    """
    minutes = {
        row.part_id: row.minutes_in_domains
        for row in IntensityEstimate.objects.of(athlete)
        .filter(part__workout__day__range=(first, last), source=athlete.current_source)
        .defer("bands")
    }
    usual = usual_daily_loads(athlete, Measure(athlete.measure), first, last)
    by_workout: dict[int, list[PartLine]] = {}
    for line in lines_between(athlete, first, last):
        by_workout.setdefault(line.part.workout_id, []).append(line)
    found = [_recovery(athlete, lines, minutes, usual) for lines in by_workout.values()]
    return sorted((one for one in found if one), key=lambda one: one.workout.end)


def recovery_of(workout: Workout) -> Recovery | None:
    """Recovery from one workout; None where a part of it has no estimate yet."""
    found = recoveries_between(workout.owner, workout.day, workout.day)
    return next((one for one in found if one.workout.pk == workout.pk), None)


def recovery_now(athlete: Athlete, now: datetime | None = None) -> Now | None:
    """What the sessions of the last days leave until ready.

    Parameters
    ----------
    athlete : Athlete
    now : datetime, optional
        Instant asked about; the present if left out.

    Returns
    -------
    Now or None
        None where no session that has ended lies within ``LONGEST``.
    """
    now = now or timezone.now()
    # A day more than needed: local days and instants differ by less.
    first = (now - LONGEST - timedelta(days=1)).date()
    found = recoveries_between(athlete, first, (now + timedelta(days=1)).date())
    recent = [one for one in found if now - LONGEST <= one.workout.end <= now]
    if not recent:
        return None
    hours = np.stack([one.hours for one in recent])
    since = np.array([(now - one.workout.end).total_seconds() / 3600 for one in recent])
    left = hours - since[:, None]
    holds_longest = int(np.bincount(np.argmax(left, axis=0), minlength=len(recent)).argmax())
    return Now(hours_until_ready(hours, since), recent[holds_longest], now)


def untold_lately(athlete: Athlete, now: datetime | None = None) -> int:
    """How many workouts that ended within ``LONGEST`` have a part without a load: nothing is told of them."""
    now = now or timezone.now()
    estimates = LoadEstimate.objects.of(athlete).filter(part=OuterRef("pk"), source=athlete.current_source)
    recent = Part.objects.of(athlete).filter(~Exists(estimates), end__range=(now - LONGEST, now))
    return recent.values("workout").distinct().count()


def usual_daily_loads(athlete: Athlete, measure: Measure, first: date, last: date) -> dict[date, FloatArray]:
    """Chronic load a day at the end of the week before each week of a span, by the week's Monday.

    Parameters
    ----------
    athlete : Athlete
    measure : Measure
        Of the load.
    first, last : date
        Local days, both included.

    Returns
    -------
    dict of date to array, shape (DRAWS,)
        Without the weeks before which no trend is kept.
    """
    rows = TrendWeek.objects.of(athlete).filter(
        measure=measure,
        source=athlete.current_source,
        monday__range=(monday_of(first) - WEEK, monday_of(last) - WEEK),
    )
    return {
        monday + WEEK: state_of(bytes(state)).chronic for monday, state in rows.values_list("monday", "state")
    }


def _recovery(
    athlete: Athlete,
    lines: Iterable[PartLine],
    minutes: dict[int, FloatArray],
    usual: dict[date, FloatArray],
) -> Recovery | None:
    lines = list(lines)
    workout = lines[0].part.workout
    in_domains, load = np.zeros((DRAWS, 3)), np.zeros(DRAWS)
    for line in lines:
        if line.estimate is None or line.part.pk not in minutes:
            return None
        in_domains += minutes[line.part.pk]
        load += line.estimate.load
    before = usual.get(monday_of(workout.day))
    hours = recovery_hours(in_domains, load, load if before is None else before, athlete.seed)
    names = dict.fromkeys(line.part.activity.name for line in lines)
    return Recovery(workout, list(names), hours, any(line.outdated for line in lines))
