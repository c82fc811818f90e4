"""Stays in other time zones: days and times go by the clock there."""

from __future__ import annotations

from django.core.exceptions import ValidationError
from django.db import transaction

from trainlog.models import Athlete, Deletion, Stay
from trainlog.sensible_days import EARLIEST_DAY, LATEST_DAY
from trainlog.services.deletions import delete_row
from trainlog.services.local_days import move_to_local_days
from trainlog.services.log_changed import hold_log
from trainlog.services.workout_words import day_in_words
from trainlog.whereabouts import overlap


def stays_of(athlete: Athlete) -> list[Stay]:
    """All stays, newest first."""
    return list(Stay.objects.of(athlete).order_by("-first_day", "-last_day"))


def save_stay(athlete: Athlete, stay: Stay) -> Stay:
    """Keep a new or changed stay; workouts move to their local days there.

    Parameters
    ----------
    athlete : Athlete
        Whose log it is.
    stay : Stay
        The day on which it ends may be the one on which another begins: from then on the other counts.

    Raises
    ------
    ValidationError
        If its zone is none, it ends before it begins, or it overlaps another stay.
    """
    stay.owner = athlete
    stay.full_clean(exclude=["owner"], validate_unique=False, validate_constraints=False)
    if not EARLIEST_DAY <= stay.first_day <= stay.last_day <= LATEST_DAY:
        raise ValidationError({"first_day": f"A stay lies between {EARLIEST_DAY:%Y} and {LATEST_DAY:%Y}."})
    with transaction.atomic():
        # Whoever places a recording waits here too, so that none is placed by the stays as they were.
        hold_log(athlete)
        refuse_overlap(athlete, stay)
        stay.save()
        move_to_local_days(athlete)
    return stay


def refuse_overlap(athlete: Athlete, stay: Stay) -> None:
    """Refuse a stay that another one overlaps.

    Raises
    ------
    ValidationError
        Naming the other.
    """
    for other in Stay.objects.of(athlete).exclude(pk=stay.pk):
        if overlap(stay.away, other.away):
            raise ValidationError(
                {
                    "first_day": f"There is a stay in {other.time_zone} from {other.first_day} to "
                    f"{other.last_day} already. Two stays may share the day on which one ends and "
                    "the other begins, and no more: change one of them."
                }
            )


def delete_stay(stay: Stay) -> Deletion:
    """Remove a stay; its workouts go back to their local days at home. It can be put back."""
    athlete = stay.owner
    days = f"{day_in_words(stay.first_day)} to {day_in_words(stay.last_day)}"
    with transaction.atomic():
        hold_log(athlete)
        deletion = delete_row(stay, f"stay in {stay.time_zone} from {days}")
        move_to_local_days(athlete)
    return deletion
