"""Putting back what was deleted: all of it as it was, or nothing, with what stands in the way."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import partial
from typing import Any

from django.core.exceptions import ValidationError
from django.core.serializers.base import DeserializedObject
from django.db import IntegrityError, models, transaction
from django.db.models import Max

from trainlog.models import (
    Athlete,
    CheckIn,
    Deletion,
    LiftSet,
    Part,
    Recording,
    Stay,
    Tag,
    UnknownDay,
    WeekPlan,
    Workout,
)
from trainlog.services.delete_workouts import overlapping_unwanted, stretch_of
from trainlog.services.deleted_rows import rows_from, unpack
from trainlog.services.deletions import delete_for_good
from trainlog.services.group_recordings import place
from trainlog.services.import_files import READ_TASK
from trainlog.services.local_days import move_to_local_days, set_local_day
from trainlog.services.log_changed import hold_log, log_changed
from trainlog.services.stays import refuse_overlap
from trainlog.services.wake import wake
from trainlog.services.workout_words import day_in_words

CHANGED_MEANWHILE = (
    "Its workout was changed meanwhile, so the file joined it as it is now; ratings of parts that went with "
    "the file are not put back."
)


@dataclass(frozen=True)
class PutBack:
    """What was put back.

    Attributes
    ----------
    what : str
        In the words of the page.
    row : Model
        The row that it is about: a workout, or whatever else was deleted.
    remark : str
        What is not as it was; empty if all is.
    """

    what: str
    row: models.Model
    remark: str = ""


def undo(deletion: Deletion) -> PutBack:
    """Put back what a deletion removed, with the keys it had; loads are estimated anew.

    Raises
    ------
    ValidationError
        If something stands in the way: says what, and what to do. Then nothing has changed.
    """
    athlete = deletion.owner
    content = unpack(bytes(deletion.rows))
    rows = rows_from(content["rows"])
    try:
        with transaction.atomic():
            hold_log(athlete)
            if not Deletion.objects.of(athlete).filter(pk=deletion.pk).exists():
                raise ValidationError("This was put back or deleted for good a moment ago.")
            _refuse_files_added_again(athlete, rows)
            if "recording" in content:
                done = _put_back_recording(athlete, deletion, content, rows)
            else:
                done = _put_back_rows(athlete, deletion, rows, content.get("beside", ()))
            waiting = [row.object for row in rows if isinstance(row.object, Recording)]
            for recording in waiting:
                if recording.state == Recording.State.RECEIVED:
                    transaction.on_commit(partial(wake, READ_TASK))
            # The recordings name their originals again, so these stay.
            delete_for_good(deletion)
    except IntegrityError as clash:
        raise ValidationError(
            "Something in its place was added at the same moment. Look at the log, then try again."
        ) from clash
    return done


def _put_back_rows(
    athlete: Athlete, deletion: Deletion, rows: Sequence[DeserializedObject], beside: Sequence[int]
) -> PutBack:
    objects = [row.object for row in rows]
    for row in objects:
        if isinstance(row, Workout):
            _refuse_overlapping(athlete, row, beside)
        _refuse_taken(athlete, row)
    _insert(athlete, rows)
    workouts = [row for row in objects if isinstance(row, Workout)]
    if any(isinstance(row, Stay) for row in objects):
        move_to_local_days(athlete)
    log_changed(athlete, Part.objects.of(athlete).filter(workout__in=workouts))
    about = workouts[0] if workouts else objects[-1]
    return PutBack(deletion.what, about)


def _put_back_recording(
    athlete: Athlete, deletion: Deletion, content: Mapping[str, Any], rows: Sequence[DeserializedObject]
) -> PutBack:
    recording = next(row for row in rows if isinstance(row.object, Recording))
    if "begin" not in content:
        _insert(athlete, [recording])
        return PutBack(deletion.what, recording.object)
    span = datetime.fromisoformat(content["begin"]), datetime.fromisoformat(content["end"])
    now = stretch_of(athlete, *span)
    if now.fingerprint == content["left"]:
        _restore_stretch(athlete, now.workouts, content["joined"], rows)
        remark = ""
    else:
        _refuse_before_later(deletion, rows)
        joined: Any = recording.object
        joined.workout = None
        _insert(athlete, [recording])
        place(joined)
        remark = CHANGED_MEANWHILE
    log_changed(athlete, Part.objects.of(athlete).filter(workout__recordings=recording.object.pk))
    back = Recording.objects.select_related("workout").get(pk=recording.object.pk)
    return PutBack(deletion.what, back.workout or back, remark)


def _restore_stretch(
    athlete: Athlete,
    now: Sequence[Workout],
    joined: Mapping[str, int],
    rows: Sequence[DeserializedObject],
) -> None:
    """Make a stretch of time what it was: what regrouping left of it goes, what was before comes."""
    parts = Part.objects.of(athlete).filter(workout__in=now)
    revisions = dict(parts.values_list("pk", "input_revision"))
    for row in rows:
        if isinstance(row.object, Part):
            # Never below what somebody may be estimating at this moment.
            row.object.input_revision = max(row.object.input_revision, revisions.get(row.object.pk, 0))
    Workout.objects.of(athlete).filter(pk__in=[workout.pk for workout in now]).delete()
    _insert(athlete, rows)
    for key, workout in joined.items():
        Recording.objects.of(athlete).filter(pk=int(key)).update(workout=workout)
    touched = Workout.objects.of(athlete).filter(pk__in=joined.values())
    log_changed(athlete, Part.objects.of(athlete).filter(workout__in=touched))


def _insert(athlete: Athlete, rows: Sequence[DeserializedObject]) -> None:
    """Write rows with their own keys; tags that are there again under another key are those."""
    tags: dict[int, int] = {}
    whereabouts = athlete.whereabouts()
    for row in rows:
        if isinstance(row.object, Tag):
            tags[row.object.pk] = _tag_like(athlete, row.object).pk
            continue
        if isinstance(row.object, Workout):
            set_local_day(row.object, whereabouts)
        if isinstance(row.object, LiftSet):
            _find_place(row.object)
        _refuse_missing(athlete, row.object)
        models.Model.save_base(row.object, raw=True, force_insert=True)
        if isinstance(row.object, Workout):
            keys = (row.m2m_data or {}).get("tags", ())
            row.object.tags.set([tags[getattr(key, "pk", key)] for key in keys])


def _tag_like(athlete: Athlete, tag: Tag) -> Tag:
    """The athlete's tag of that name, made again where no workout had it and so it went."""
    known = {row.name.casefold(): row for row in Tag.objects.of(athlete)}
    found = known.get(tag.name.casefold())
    if found is None:
        found = tag
        models.Model.save_base(found, raw=True, force_insert=True)
    return found


def _find_place(line: LiftSet) -> None:
    """A line of sets whose place was taken meanwhile comes last."""
    others = LiftSet.objects.filter(part=line.part_id)
    if others.filter(place=line.place).exists():
        line.place = 1 + others.aggregate(last=Max("place"))["last"]


def _refuse_missing(athlete: Athlete, row: models.Model) -> None:
    """Refuse a row that points at one which is gone."""
    for field in row._meta.fields:
        key = getattr(row, field.attname)
        target = field.related_model
        if not field.is_relation or key is None or target is Athlete:
            continue
        if not target._base_manager.filter(pk=key, owner=athlete).exists():  # type: ignore[union-attr]
            name = target._meta.verbose_name  # type: ignore[union-attr]
            remedy = (
                "If its workout was deleted later, put that back first."
                if target in {Part, Workout}
                else "Add its files again instead, or type the session in."
            )
            raise ValidationError(f"The {name} it belongs to is no longer in your log. {remedy}")


def _refuse_files_added_again(athlete: Athlete, rows: Sequence[DeserializedObject]) -> None:
    wanted = {row.object.sha256 for row in rows if isinstance(row.object, Recording)}
    again = Recording.objects.of(athlete).filter(sha256__in=wanted).first()
    if again is not None:
        raise ValidationError(
            f"{again.file_name} was added again meanwhile. Delete that recording first, then put this back; "
            "or leave it as it is now."
        )


def _refuse_overlapping(athlete: Athlete, workout: Workout, beside: Sequence[int]) -> None:
    workout.owner = athlete
    other = overlapping_unwanted(athlete, workout, beside)
    if other is not None:
        raise ValidationError(
            f"There is a workout now from {other.local_start:%H:%M} on {day_in_words(other.day)}, in the "
            "same time. Delete that one first, then put this back."
        )


def _refuse_taken(athlete: Athlete, row: models.Model) -> None:
    """Refuse a row whose place another has taken: one a day, or one a week."""
    if isinstance(row, CheckIn) and CheckIn.objects.of(athlete).filter(day=row.day).exists():
        raise ValidationError(
            f"The morning of {day_in_words(row.day)} was noted anew. Delete that first, then put this back."
        )
    if isinstance(row, UnknownDay) and UnknownDay.objects.of(athlete).filter(day=row.day).exists():
        raise ValidationError(f"{day_in_words(row.day)} is marked as not known again already.")
    if isinstance(row, WeekPlan):
        others = WeekPlan.objects.of(athlete).filter(monday=row.monday, measure=row.measure)
        if others.exists():
            raise ValidationError(
                f"Another load is planned for the week of {day_in_words(row.monday)} now. Clear it first, "
                "then put this back."
            )
    if isinstance(row, Stay):
        row.owner = athlete
        refuse_overlap(athlete, row)


def _refuse_before_later(deletion: Deletion, rows: Sequence[DeserializedObject]) -> None:
    """Refuse where a later deletion took more of the same workout: that one has to be undone first."""
    ours = {row.object.pk for row in rows if isinstance(row.object, Workout)}
    for later in Deletion.objects.of(deletion.owner).filter(pk__gt=deletion.pk).order_by("-pk"):
        try:
            theirs = unpack(bytes(later.rows))["rows"]
        except ValidationError:
            continue
        if any(row["model"] == "trainlog.workout" and row["pk"] in ours for row in theirs):
            raise ValidationError(
                f"More of this workout was deleted later. Put “{later.what}” back first, then this."
            )
