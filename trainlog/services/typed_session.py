"""A session that left no file, logged in a moment: what is usual is proposed."""

from __future__ import annotations

import statistics
from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta

from django.db import transaction
from django.utils import timezone

from trainlog.models import Activity, Athlete, Family, Part, Workout
from trainlog.services.edit_workout import add_typed_workout
from trainlog.services.tags import set_tags

LAST_SESSIONS = 10
"""Sessions of an activity that its usual length is the median of."""

STEP_MINUTES = 15
"""Between the lengths that are offered."""

OFFERED_AT_FIRST = (30, 45, 60)
"""Minutes offered for an activity without a session yet; none of them is usual."""

LIFTED = {Family.RESISTANCE, Family.MIXED}
"""Families whose parts have sets."""


def last_activity(athlete: Athlete) -> Activity | None:
    """Activity of the newest part; None in an empty log."""
    newest = Part.objects.of(athlete).select_related("activity").order_by("-start").first()
    return newest.activity if newest else None


def usual_minutes(athlete: Athlete, activity: Activity | None) -> int | None:
    """Median length of the last sessions of an activity, to five minutes; None if there is none."""
    if activity is None:
        return None
    last = Part.objects.of(athlete).filter(activity=activity).order_by("-start")[:LAST_SESSIONS]
    lengths = [part.seconds / 60 for part in last.only("start", "end")]
    return max(5, 5 * round(statistics.median(lengths) / 5)) if lengths else None


def offered_minutes(usual: int | None) -> Sequence[int]:
    """Lengths to choose from: the usual one, a quarter of an hour less, and one more."""
    if usual is None:
        return OFFERED_AT_FIRST
    return [minutes for minutes in (usual - STEP_MINUTES, usual, usual + STEP_MINUTES) if minutes >= 5]


def just_ended(minutes: float) -> datetime:
    """When a session of so many minutes began, on the minute, if it ends now."""
    return timezone.now().replace(second=0, microsecond=0) - timedelta(minutes=minutes)


def log_session(
    athlete: Athlete,
    start: datetime,
    minutes: float,
    activity: Activity,
    session_rpe: float | None,
    note: str = "",
    tags: Iterable[str] = (),
) -> Workout:
    """Log a session with its tags.

    Raises
    ------
    ValidationError
        If it cannot be, or its tags cannot; then nothing is kept.
    """
    with transaction.atomic():
        workout = add_typed_workout(athlete, start, minutes, activity, session_rpe, note)
        set_tags(workout, tags)
    return workout
