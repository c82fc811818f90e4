"""Deleting workouts and recordings, with all that the athlete said of them."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db import models, transaction
from django.db.models import Q, QuerySet

from trainlog.models import Athlete, ClaimedRecovery, Deletion, LiftSet, Part, Recording, Tag, Workout
from trainlog.services.deleted_rows import plain
from trainlog.services.deletions import keep_deleted
from trainlog.services.group_recordings import LEAST_OVERLAP, close_ranks
from trainlog.services.log_changed import hold_log, log_changed
from trainlog.services.workout_words import in_words

VOLATILE = {"input_revision", "changed_at"}
"""Columns of a part that learning needs and nobody gave."""


@dataclass(frozen=True)
class Stretch:
    """What the athlete gave in a stretch of time, and which recording is in which workout."""

    workouts: Sequence[Workout]
    rows: Sequence[models.Model]
    joined: dict[str, int]

    @property
    def fingerprint(self) -> str:
        """Hash by which it is known again as long as nobody changed anything in it."""
        rows = [
            row | {"fields": {name: value for name, value in row["fields"].items() if name not in VOLATILE}}
            for row in plain(row for row in self.rows if not isinstance(row, Tag))
        ]
        text = json.dumps([rows, self.joined], sort_keys=True)
        return hashlib.sha256(text.encode()).hexdigest()


def delete_workout(workout: Workout) -> Deletion:
    """Remove a workout with all its recordings; it can be put back for thirty days."""
    return delete_workouts(workout.owner, [workout])


def delete_workouts(athlete: Athlete, workouts: Sequence[Workout]) -> Deletion:
    """Remove workouts with all their recordings, as one deletion.

    Parameters
    ----------
    athlete : Athlete
        Whose they are.
    workouts : sequence of Workout
        At least one.
    """
    keys = [workout.pk for workout in workouts]
    with transaction.atomic():
        hold_log(athlete)
        of_owner = Workout.objects.of(athlete).filter(pk__in=keys).order_by("start", "pk")
        recordings = list(Recording.objects.of(athlete).filter(workout__in=keys).order_by("pk"))
        given = given_with(athlete, of_owner)
        beside = {pk for workout in of_owner for pk in _overlapping(athlete, workout.start, workout.end)}
        deletion = keep_deleted(
            athlete,
            in_words(of_owner),
            {"rows": plain([*given.rows, *recordings]), "beside": sorted(beside)},
            [recording.sha256 for recording in recordings],
        )
        Recording.objects.of(athlete).filter(workout__in=keys).delete()
        of_owner.delete()
        log_changed(athlete)
    return deletion


def delete_recording(recording: Recording) -> Deletion:
    """Remove a recording; a workout that loses its last one goes too, unless typed."""
    athlete = recording.owner
    with transaction.atomic():
        hold_log(athlete)
        recording = Recording.objects.select_related("workout", "owner").get(pk=recording.pk)
        workout, span = recording.workout, _span(recording)
        content: dict[str, Any] = {"recording": recording.pk, "rows": plain([recording])}
        if span:
            before = stretch_of(athlete, *span)
            content["rows"] = plain([*before.rows, recording])
            content |= {"begin": span[0].isoformat(), "end": span[1].isoformat(), "joined": before.joined}
        recording.delete()
        if workout is not None:
            close_ranks(workout)
        if span:
            content["left"] = stretch_of(athlete, *span).fingerprint
        return keep_deleted(athlete, f"file {recording.file_name}", content, [recording.sha256])


def stretch_of(athlete: Athlete, begin: datetime, end: datetime) -> Stretch:
    """All that the athlete gave in a stretch of time."""
    return given_with(athlete, Workout.objects.of(athlete).filter(pk__in=_overlapping(athlete, begin, end)))


def given_with(athlete: Athlete, workouts: QuerySet[Workout]) -> Stretch:
    """Workouts with what was given of them, each row after those that it points at."""
    found = list(workouts.order_by("start", "pk"))
    keys = [workout.pk for workout in found]
    of_parts = Part.objects.of(athlete).filter(workout__in=keys)
    rows: list[models.Model] = [
        *Tag.objects.of(athlete).filter(workouts__in=keys).distinct().order_by("pk"),
        *found,
        *of_parts.order_by("start", "pk"),
        *LiftSet.objects.of(athlete).filter(part__in=of_parts).order_by("part__start", "part", "place"),
        *ClaimedRecovery.objects.of(athlete).filter(workout__in=keys).order_by("pk"),
    ]
    recordings = Recording.objects.of(athlete).filter(workout__in=keys).order_by("pk")
    joined = {str(pk): workout for pk, workout in recordings.values_list("pk", "workout_id")}
    return Stretch(found, rows, joined)


def _overlapping(athlete: Athlete, begin: datetime, end: datetime) -> list[int]:
    found = Workout.objects.of(athlete).filter(start__lt=end, end__gt=begin)
    return list(found.order_by("pk").values_list("pk", flat=True))


def _span(recording: Recording) -> tuple[datetime, datetime] | None:
    """Stretch of time in which regrouping could change anything once this recording is gone."""
    if not (recording.start and recording.end):
        return None
    workout = recording.workout
    begin = min(recording.start, workout.start) if workout else recording.start
    end = max(recording.end, workout.end) if workout else recording.end
    while True:
        others = Workout.objects.of(recording.owner).filter(start__lt=end, end__gt=begin)
        spans = list(others.values_list("start", "end"))
        wider = min([begin, *(start for start, _ in spans)]), max([end, *(last for _, last in spans)])
        if wider == (begin, end):
            return wider
        begin, end = wider


def overlapping_unwanted(athlete: Athlete, workout: Workout, beside: Iterable[int]) -> Workout | None:
    """Workout that would be one with this one, or that nobody may type over it; not those of before."""
    others = Workout.objects.of(athlete).filter(
        Q(start__lt=workout.end, end__gt=workout.start) & ~Q(pk__in=[*beside, workout.pk])
    )
    for other in others.order_by("start"):
        shared = min(other.end, workout.end) - max(other.start, workout.start)
        shorter = min(other.end - other.start, workout.end - workout.start)
        if other.by_hand or workout.by_hand or shared >= LEAST_OVERLAP * shorter:
            return other
    return None
