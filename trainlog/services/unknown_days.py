"""Days of which the athlete says that they are not known: not rest, and not any load in particular."""

from __future__ import annotations

from datetime import date, timedelta

from django.core.exceptions import ValidationError
from django.db import transaction

from trainlog.models import Athlete, Deletion, UnknownDay
from trainlog.sensible_days import EARLIEST_DAY
from trainlog.services.deletions import delete_row
from trainlog.services.log_changed import log_changed
from trainlog.services.workout_words import day_in_words

LONGEST_RANGE_DAYS = 60
"""Days that are marked at once."""


def mark_unknown(athlete: Athlete, first: date, last: date, note: str = "") -> list[UnknownDay]:
    """Mark the days from ``first`` to ``last`` as not known, in place of marks that are there.

    Parameters
    ----------
    athlete : Athlete
        Whose log it is.
    first, last : date
        Local days, not after today. What is logged on them stays, and may not be all.
    note : str
        The athlete's own words.

    Raises
    ------
    ValidationError
        If the days are in the wrong order, too many, too long ago or still to come.
    """
    if last < first:
        raise ValidationError({"last_day": "The last day must not be before the first."})
    if (last - first).days >= LONGEST_RANGE_DAYS:
        raise ValidationError({"last_day": f"Mark at most {LONGEST_RANGE_DAYS} days at a time."})
    if first < EARLIEST_DAY:
        raise ValidationError({"first_day": f"Mark days from {EARLIEST_DAY:%Y} on."})
    if last > athlete.today():
        raise ValidationError({"last_day": "A day that is still to come cannot be marked."})
    marks = [
        UnknownDay(owner=athlete, day=first + timedelta(days=after), note=note)
        for after in range((last - first).days + 1)
    ]
    for mark in marks:
        mark.full_clean(exclude=["owner"], validate_unique=False, validate_constraints=False)
    with transaction.atomic():
        UnknownDay.objects.bulk_create(
            marks, update_conflicts=True, unique_fields=["owner", "day"], update_fields=["note"]
        )
        # The trend draws their loads.
        log_changed(athlete)
    return unknown_days_between(athlete, first, last)


def unmark(athlete: Athlete, day: date) -> Deletion | None:
    """Take a mark back; a day without a workout is rest again. None where there was no mark."""
    with transaction.atomic():
        mark = UnknownDay.objects.of(athlete).filter(day=day).first()
        if mark is None:
            return None
        deletion = delete_row(mark, f"mark of {day_in_words(day)} as not known")
        log_changed(athlete)
    return deletion


def unknown_days_between(athlete: Athlete, first: date, last: date) -> list[UnknownDay]:
    """Marked days from ``first`` to ``last``, oldest first."""
    return list(UnknownDay.objects.of(athlete).filter(day__range=(first, last)).order_by("day"))
