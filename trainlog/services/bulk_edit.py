"""Changing several workouts at once: all in one transaction, and what could not be changed is said."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from django.core.exceptions import ValidationError
from django.db import transaction

from trainlog.models import Activity, Athlete, Part, Recording, Sensor, Workout
from trainlog.services.log_changed import hold_log, log_changed
from trainlog.services.tags import give_tags, take_tags
from trainlog.services.workout_words import day_in_words

MOST_AT_ONCE = 500


@dataclass(frozen=True)
class Change:
    """What to change; whatever is left out stays.

    Attributes
    ----------
    activity : Activity or None
        Of the parts; a workout whose parts differ in activity is left as it is.
    moves_sensor : bool
        Whether recordings of ``sensor_from`` become recordings of ``sensor_to``.
    sensor_from : Sensor or None
        None for recordings whose sensor is not known.
    sensor_to : Sensor or None
    add_tags, remove_tags : sequence of str
    """

    activity: Activity | None = None
    moves_sensor: bool = False
    sensor_from: Sensor | None = None
    sensor_to: Sensor | None = None
    add_tags: Sequence[str] = ()
    remove_tags: Sequence[str] = ()


@dataclass
class Summary:
    """What came of a change, a sentence each.

    Attributes
    ----------
    done : list of str
        What was changed.
    left : list of str
        What was not, and why.
    """

    done: list[str] = field(default_factory=list)
    left: list[str] = field(default_factory=list)


def change_workouts(athlete: Athlete, workouts: Iterable[Workout], change: Change) -> Summary:
    """Change several workouts of an athlete; their loads are estimated anew at once.

    Raises
    ------
    ValidationError
        If none is chosen or too many are, nothing is to be changed, or a tag cannot be; then all stays.
    """
    chosen = sorted({row.pk: row for row in workouts}.values(), key=lambda row: (row.start, row.pk))
    _check(chosen, change)
    summary = Summary()
    with transaction.atomic():
        hold_log(athlete)
        touched: set[int] = set()
        if change.activity:
            touched |= _set_activity(athlete, chosen, change.activity, summary)
        if change.moves_sensor:
            touched |= _move_sensor(athlete, chosen, change, summary)
        if change.add_tags:
            _count_tags(summary, give_tags(athlete, chosen, change.add_tags), change.add_tags, "tagged")
        if change.remove_tags:
            taken = take_tags(athlete, chosen, change.remove_tags)
            _count_tags(summary, taken, change.remove_tags, "no longer tagged")
        if touched:
            log_changed(athlete, Part.objects.of(athlete).filter(workout__in=touched))
    return summary


def _check(chosen: Sequence[Workout], change: Change) -> None:
    if not chosen:
        raise ValidationError("Choose at least one workout first.")
    if len(chosen) > MOST_AT_ONCE:
        raise ValidationError(f"Choose at most {MOST_AT_ONCE} workouts at a time.")
    if change == Change():
        raise ValidationError("Say what to change.")
    if change.moves_sensor and change.sensor_from == change.sensor_to:
        raise ValidationError("Choose two different sensors: the one that is named now, and the right one.")


def _set_activity(
    athlete: Athlete, chosen: Sequence[Workout], activity: Activity, summary: Summary
) -> set[int]:
    by_workout: dict[int, list[Part]] = {}
    for part in Part.objects.of(athlete).filter(workout__in=chosen):
        by_workout.setdefault(part.workout_id, []).append(part)
    touched, had, differ = set(), 0, []
    for workout in chosen:
        parts = by_workout.get(workout.pk, [])
        activities = {part.activity_id for part in parts}
        if len(activities) > 1:
            differ.append(workout)
        elif activities == {activity.pk}:
            had += 1
        else:
            touched.add(workout.pk)
    of_touched = Part.objects.of(athlete).filter(workout__in=touched)
    of_touched.update(activity=activity, by_hand=True)
    if touched:
        summary.done.append(f"{_workouts(len(touched))} set to {activity.name}.")
    if had:
        summary.left.append(f"{_workouts(had)} had that activity already.")
    if differ:
        summary.left.append(
            f"{_days(differ)} left as {_it(differ)}: the parts differ in activity. Change them one by one on "
            "the page of the workout."
        )
    return touched


def _move_sensor(athlete: Athlete, chosen: Sequence[Workout], change: Change, summary: Summary) -> set[int]:
    by_workout: dict[int, list[Recording]] = {}
    for row in Recording.objects.of(athlete).filter(workout__in=chosen).defer("trace_blob"):
        by_workout.setdefault(row.workout_id or 0, []).append(row)
    moved, touched, without, both = [], set(), 0, []
    wanted = change.sensor_from.pk if change.sensor_from else None
    for workout in chosen:
        rows = by_workout.get(workout.pk, [])
        ours = [row.pk for row in rows if row.sensor_id == wanted]
        if not ours:
            without += 1
        elif change.sensor_to and any(row.sensor_id == change.sensor_to.pk for row in rows):
            both.append(workout)
        else:
            moved += ours
            touched.add(workout.pk)
    Recording.objects.of(athlete).filter(pk__in=moved).update(sensor=change.sensor_to)
    name_from, name_to = (one.name if one else "not known" for one in (change.sensor_from, change.sensor_to))
    if moved:
        recordings = "1 recording" if len(moved) == 1 else f"{len(moved)} recordings"
        summary.done.append(f"Sensor of {recordings} changed from {name_from} to {name_to}.")
    if without:
        summary.left.append(f"{_workouts(without)} without a recording whose sensor is {name_from}.")
    if both:
        summary.left.append(
            f"{_days(both)} left as {_it(both)}: a recording of {name_to} is there already, and one sensor "
            "records a session once."
        )
    return touched


def _count_tags(summary: Summary, came: tuple[int, int, int], names: Sequence[str], what: str) -> None:
    changed, had, full = came
    called = ", ".join(f"“{' '.join(name.split())}”" for name in names)
    if changed:
        summary.done.append(f"{_workouts(changed)} {what} {called}.")
    if had:
        already = "had the tag already" if what == "tagged" else "did not have the tag"
        summary.left.append(f"{_workouts(had)} {already}.")
    if full:
        summary.left.append(f"{_workouts(full)} would have more tags than a workout can hold.")


def _workouts(count: int) -> str:
    return "1 workout" if count == 1 else f"{count} workouts"


def _it(found: Sequence[Workout]) -> str:
    return "it was" if len(found) == 1 else "they were"


def _days(found: Sequence[Workout]) -> str:
    """Which workouts are meant, by their days; a few of them by name."""
    shown = ", ".join(day_in_words(row.day) for row in found[:3])
    more = f" and {len(found) - 3} more" if len(found) > 3 else ""
    return f"{_workouts(len(found))} ({shown}{more})"
