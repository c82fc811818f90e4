"""Changes that the athlete makes to workouts, parts and recordings by hand."""

from __future__ import annotations

import math
from datetime import datetime, timedelta

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from trainlog.models import Activity, Athlete, Part, Recording, Sensor, Workout
from trainlog.readers.checks import ALLOWED_SKEW, EARLIEST
from trainlog.readers.reading import Clock
from trainlog.services.lift_sets import hand_over_sets
from trainlog.services.local_days import set_local_day
from trainlog.services.log_changed import hold_log, log_changed

LONGEST_WORKOUT_MINUTES = 24 * 60

SHORTEST_PART = timedelta(minutes=1)


def set_session_rpe(part: Part, rating: float | None) -> None:
    """Note how hard a part was felt to be, 0 to 10; None takes the note back.

    Raises
    ------
    ValidationError
        If the rating is off the scale.
    """
    with transaction.atomic():
        hold_log(part.owner)
        part.session_rpe = rating
        _check_rating(part)
        part.save(update_fields=["session_rpe"])
        log_changed(part.owner, [part])


def _check_rating(part: Part) -> None:
    if part.session_rpe is not None and not math.isfinite(part.session_rpe):
        # The validators of the column only compare, and nothing compares with "not a number".
        raise ValidationError({"session_rpe": "A rating is a number."})
    part.clean_fields(exclude=[field.name for field in part._meta.fields if field.name != "session_rpe"])


def set_activity(part: Part, activity: Activity) -> None:
    """Say what kind of work a part was."""
    with transaction.atomic():
        hold_log(part.owner)
        part.activity, part.by_hand = activity, True
        part.save(update_fields=["activity", "by_hand"])
        log_changed(part.owner, [part])


def split_part(part: Part, at: datetime) -> Part:
    """Cut a part in two at an instant; the later half is new and keeps the activity.

    Raises
    ------
    ValidationError
        If the instant does not lie inside the part, a minute from either end.
    """
    if not part.start + SHORTEST_PART <= at <= part.end - SHORTEST_PART:
        raise ValidationError("Cut a part at least a minute after its start and a minute before its end.")
    with transaction.atomic():
        hold_log(part.owner)
        later = Part.objects.create(
            owner=part.owner,
            workout=part.workout,
            start=at,
            end=part.end,
            activity=part.activity,
            by_hand=True,
        )
        part.end, part.by_hand = at, True
        part.save(update_fields=["end", "by_hand"])
        log_changed(part.owner, [part, later])
    return later


def move_boundary(part: Part, at: datetime) -> None:
    """Move the boundary between a part and the one after it; sets stay with their parts.

    Parameters
    ----------
    part : Part
        The earlier of the two.
    at : datetime
        Where the earlier ends and the later begins. Moving it back undoes this.

    Raises
    ------
    ValidationError
        If the part is the last, or if less than a minute would be left of either.
    """
    with transaction.atomic():
        hold_log(part.owner)
        later = _next_part(part)
        if not part.start + SHORTEST_PART <= at <= later.end - SHORTEST_PART:
            raise ValidationError("Leave at least a minute of the part before and of the part after.")
        if part.end == later.start == at:
            return
        part.end = later.start = at
        part.by_hand = later.by_hand = True
        part.save(update_fields=["end", "by_hand"])
        later.save(update_fields=["start", "by_hand"])
        log_changed(part.owner, [part, later])


def _next_part(part: Part) -> Part:
    later = part.workout.parts.filter(start__gte=part.end).order_by("start").first()
    if later is None:
        raise ValidationError("There is no part after this one.")
    return later


def join_with_next(part: Part) -> None:
    """Undo a cut: a part takes in the one after it.

    Raises
    ------
    ValidationError
        If it is the last.
    """
    later = _next_part(part)
    with transaction.atomic():
        hold_log(part.owner)
        part.end, part.by_hand = later.end, True
        hand_over_sets(later, part)
        later.delete()
        part.save(update_fields=["end", "by_hand"])
        log_changed(part.owner, [part])


def set_note(workout: Workout, note: str) -> None:
    """Keep the athlete's note; no estimate depends on it."""
    workout.note = note
    workout.save(update_fields=["note"])


def set_sensor(recording: Recording, sensor: Sensor | None, *, remember: bool = True) -> None:
    """Say which sensor made a recording.

    Parameters
    ----------
    recording : Recording
        A recording that has been read.
    sensor : Sensor or None
        One of the same athlete's.
    remember : bool
        Also take the sensor for all other recordings from the same source that have none, and for
        files to come.
    """
    athlete = recording.owner
    with transaction.atomic():
        hold_log(athlete)
        touched = {recording.workout_id} - {None}
        recording.sensor = sensor
        recording.save(update_fields=["sensor"])
        if remember and sensor and recording.source_key:
            Sensor.objects.of(athlete).filter(source_key=recording.source_key).exclude(pk=sensor.pk).update(
                source_key=""
            )
            sensor.source_key = recording.source_key
            sensor.save(update_fields=["source_key"])
            alike = Recording.objects.of(athlete).filter(source_key=recording.source_key, sensor=None)
            touched |= set(alike.values_list("workout_id", flat=True))
            alike.update(sensor=sensor)
        log_changed(athlete, Part.objects.of(athlete).filter(workout__in=touched))


def set_clock(recording: Recording, clock: Clock) -> None:
    """Say how a recording's clock was set: two synchronised ones are never moved against each other."""
    with transaction.atomic():
        hold_log(recording.owner)
        recording.clock = clock.value
        recording.save(update_fields=["clock"])
        log_changed(recording.owner, Part.objects.of(recording.owner).filter(workout=recording.workout_id))


def add_typed_workout(
    athlete: Athlete,
    start: datetime,
    minutes: float,
    activity: Activity,
    session_rpe: float | None,
    note: str = "",
) -> Workout:
    """Log a workout that left no file.

    Raises
    ------
    ValidationError
        If its start, length or rating cannot be, or if it overlaps a workout that is there already.
    """
    if not 1 <= minutes <= LONGEST_WORKOUT_MINUTES:
        raise ValidationError("A workout lasts between one minute and 24 hours.")
    if not EARLIEST <= start <= timezone.now() + ALLOWED_SKEW:
        raise ValidationError(f"A workout begins after {EARLIEST:%Y} and not in the future.")
    start = start.replace(microsecond=0)
    end = start + timedelta(minutes=minutes)
    overlapping = Workout.objects.of(athlete).filter(start__lt=end, end__gt=start).first()
    if overlapping:
        raise ValidationError(
            f"There is a workout already from {overlapping.local_start:%H:%M} that day. "
            "Open it and add your rating there."
        )
    with transaction.atomic():
        workout = Workout(owner=athlete, start=start, end=end, note=note, by_hand=True)
        set_local_day(workout, athlete.whereabouts())
        workout.save()
        part = Part(
            owner=athlete, workout=workout, start=start, end=end, activity=activity, session_rpe=session_rpe
        )
        part.by_hand = True
        _check_rating(part)
        part.save()
        log_changed(athlete, [part])
    return workout
