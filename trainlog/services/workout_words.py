"""What a workout is called in a sentence: by what was done, and when."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from itertools import groupby

from trainlog.models import Part, Workout


def day_in_words(day: date) -> str:
    """Day as in "run of 24 November 2026"."""
    return f"{day.day} {day:%B %Y}"


def activities_in_words(parts: Iterable[Part]) -> str:
    """Activities of parts in their order, a repeated one once: "run + lifting"."""
    return " + ".join(name for name, _ in groupby(part.activity.name for part in parts))


def in_words(workouts: Iterable[Workout]) -> str:
    """One workout as "run of 24 November 2026", several as their number and days."""
    found = list(workouts)
    if len(found) > 1:
        first, last = min(row.day for row in found), max(row.day for row in found)
        days = day_in_words(first) if first == last else f"{day_in_words(first)} to {day_in_words(last)}"
        return f"{len(found)} workouts of {days}"
    parts = Part.objects.filter(workout__in=found).order_by("start").select_related("activity")
    return f"{activities_in_words(parts) or 'workout'} of {day_in_words(found[0].day)}"
