"""Estimated recovery held against what mornings showed, and the hours that devices claimed."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

import numpy as np
from django.core.exceptions import ValidationError
from django.db import transaction

from trainlog.load.observed_recovery import (
    Fit,
    MorningAfter,
    Observed,
    morning_bounds,
    observed_recovery,
)
from trainlog.models import Athlete, CheckIn, ClaimedRecovery, Workout
from trainlog.services.check_in import check_ins_between
from trainlog.services.recovery import Recovery, recoveries_between
from trainlog.trace import FloatArray
from trainlog.whereabouts import Whereabouts

MORNING = time(7)
"""When a morning's figures are taken to have been noted: only their day is kept (ours, no source)."""

BASELINE_DAYS = 60
"""Days before a session whose mornings say what is usual (as in the check-in)."""

FOLLOWED_DAYS = 5
"""Mornings after a session that are looked at."""

CHECKED_DAYS = 120
"""Days back from today whose sessions are looked at."""


@dataclass(frozen=True)
class Checked:
    """One session whose recovery mornings showed."""

    recovery: Recovery
    observed: Observed
    fit: Fit


@dataclass(frozen=True)
class Check:
    """Sessions whose recovery mornings showed, newest first, and how often the estimate was in keeping."""

    sessions: Sequence[Checked]
    counts: Mapping[Fit, int]


def recovery_check(athlete: Athlete, today: date) -> Check:
    """Hold estimated recovery against the mornings after, as far as they were noted.

    Parameters
    ----------
    athlete : Athlete
    today : date
        Local day; sessions of the last ``CHECKED_DAYS`` count.

    Returns
    -------
    Check
        Without sessions that another one followed before a morning was noted, or before which fewer than
        fourteen mornings were.
    """
    first = today - timedelta(days=CHECKED_DAYS)
    recoveries = recoveries_between(athlete, first, today)
    noted = {row.day: row for row in check_ins_between(athlete, first - timedelta(days=BASELINE_DAYS), today)}
    whereabouts = athlete.whereabouts()
    # Also of workouts whose own recovery cannot be told: mornings after one tell of that one.
    begun = Workout.objects.of(athlete).filter(day__gte=first).order_by("start")
    starts = list(begun.values_list("start", flat=True))
    sessions = []
    for one in recoveries:
        observed = _observed(whereabouts, one.workout, noted, starts)
        if observed:
            low, _, high = one.range
            sessions.append(Checked(one, observed, observed.against(low, high)))
    return Check(sessions[::-1], Counter(one.fit for one in sessions))


def claim_recovery(workout: Workout, fed_by: str, hours: float | None) -> ClaimedRecovery | None:
    """Note the hours that a device claimed after a workout; None takes the note back.

    Raises
    ------
    ValidationError
        If the hours cannot be, or the kind of heart rate is none.
    """
    rows = ClaimedRecovery.objects.of(workout.owner).filter(workout=workout, fed_by=fed_by)
    if hours is None:
        rows.delete()
        return None
    if not math.isfinite(hours):
        raise ValidationError({"hours": "Hours are a number."})
    claimed = ClaimedRecovery(owner=workout.owner, workout=workout, fed_by=fed_by, hours=hours)
    claimed.full_clean(exclude=["owner"], validate_unique=False, validate_constraints=False)
    kept, _ = ClaimedRecovery.objects.of(workout.owner).update_or_create(
        owner=workout.owner, workout=workout, fed_by=fed_by, defaults={"hours": hours}
    )
    return kept


def claim_recoveries(workout: Workout, hours: Mapping[str, float | None]) -> dict[str, float]:
    """Note hours of several kinds, all or none of them; gives what is noted then.

    Raises
    ------
    ValidationError
        As in ``claim_recovery``.
    """
    with transaction.atomic():
        for fed_by, claimed in hours.items():
            claim_recovery(workout, fed_by, claimed)
    return claims_of(workout)


def claims_of(workout: Workout) -> dict[str, float]:
    """Hours claimed after a workout, by kind of heart rate."""
    rows = ClaimedRecovery.objects.of(workout.owner).filter(workout=workout)
    return dict(rows.values_list("fed_by", "hours"))


def _observed(
    whereabouts: Whereabouts, workout: Workout, noted: Mapping[date, CheckIn], starts: Sequence[datetime]
) -> Observed | None:
    before = [noted.get(workout.day - timedelta(days=back)) for back in range(BASELINE_DAYS, 0, -1)]
    bounds = {name: morning_bounds(_values(before, name)) for name in ("ln_rmssd", "resting_rate")}
    mornings = []
    for offset in range(FOLLOWED_DAYS + 1):
        day = workout.day + timedelta(days=offset)
        inside = _inside(noted.get(day), bounds)
        if inside is not None:
            instant = datetime.combine(day, MORNING, tzinfo=whereabouts.zone_on(day))
            mornings.append(MorningAfter((instant - workout.end).total_seconds() / 3600, inside))
    following = next((start for start in starts if start >= workout.end), None)
    until = (following - workout.end).total_seconds() / 3600 if following else math.inf
    return observed_recovery(mornings, until)


def _values(mornings: Sequence[CheckIn | None], name: str) -> FloatArray:
    return np.array([None if one is None else getattr(one, name) for one in mornings], dtype=float)


def _inside(morning: CheckIn | None, bounds: Mapping[str, tuple[float, float] | None]) -> bool | None:
    """Whether all noted figures lie within their bounds, or on the better side; None if none can be told."""
    told = []
    rmssd, rate = bounds["ln_rmssd"], bounds["resting_rate"]
    if morning is not None and morning.ln_rmssd is not None and rmssd is not None:
        told.append(morning.ln_rmssd >= rmssd[0])
    if morning is not None and morning.resting_rate is not None and rate is not None:
        told.append(morning.resting_rate <= rate[1])
    return all(told) if told else None
