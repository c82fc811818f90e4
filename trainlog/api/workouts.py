"""Workouts and their parts for programs; the log's API mounts this router."""

from typing import Annotated

from django.db.models import Prefetch, QuerySet
from django.shortcuts import get_object_or_404
from ninja import Query, Router
from ninja.pagination import paginate
from ninja.responses import Status

from trainlog.api.deletions import DeletionAnswer
from trainlog.api.pages import NamedPages
from trainlog.api.schemas import Problem, SignedInRequest, activity_named
from trainlog.api.workout_schemas import (
    PartAnswer,
    PartChange,
    TypedWorkout,
    WorkoutAnswer,
    WorkoutChange,
    WorkoutFilter,
)
from trainlog.models import Athlete, Deletion, Part, Recording, Workout
from trainlog.services import edit_workout
from trainlog.services.delete_workouts import delete_workout
from trainlog.services.find_workouts import find_workouts
from trainlog.services.tags import describe_workout
from trainlog.services.typed_session import log_session

PROBLEMS = frozenset({401, 403, 404, 422})

router = Router()


@router.get("/workouts", response={200: list[WorkoutAnswer], PROBLEMS: Problem})
@paginate(NamedPages, ordering=("-start", "-pk"), page_size=50, max_page_size=200)
def workouts(request: SignedInRequest, wanted: Annotated[WorkoutFilter, Query()]) -> QuerySet[Workout]:
    """List workouts with their parts, newest first: all, or those that are all that is asked for."""
    return _with_contents(find_workouts(request.auth, wanted.of(request.auth)))


@router.post("/workouts", response={201: WorkoutAnswer, PROBLEMS: Problem})
def typed_workout(request: SignedInRequest, typed: TypedWorkout) -> Status:
    """Log a workout that left no file."""
    made = log_session(
        request.auth,
        typed.start,
        typed.minutes,
        activity_named(request.auth, typed.activity),
        typed.session_rpe,
        typed.note,
        typed.tags,
    )
    return Status(201, _workouts(request.auth).get(pk=made.pk))


@router.get("/workouts/{id}", response={200: WorkoutAnswer, PROBLEMS: Problem})
def workout(request: SignedInRequest, id: int) -> Workout:
    """Show one workout with its parts."""
    return get_object_or_404(_workouts(request.auth), pk=id)


@router.patch("/workouts/{id}", response={200: WorkoutAnswer, PROBLEMS: Problem})
def change_workout(request: SignedInRequest, id: int, change: WorkoutChange) -> Workout:
    """Set a workout's note, its tags, or both; no load depends on them."""
    changed = get_object_or_404(Workout.objects.of(request.auth).select_related("owner"), pk=id)
    describe_workout(changed, note=change.note, tags=change.tags)
    return _workouts(request.auth).get(pk=id)


@router.delete("/workouts/{id}", response={200: DeletionAnswer, PROBLEMS: Problem})
def remove_workout(request: SignedInRequest, id: int) -> Deletion:
    """Delete a workout with its recordings; it can be put back for thirty days."""
    return delete_workout(get_object_or_404(Workout.objects.of(request.auth).select_related("owner"), pk=id))


@router.get("/parts/{id}", response={200: PartAnswer, PROBLEMS: Problem})
def part(request: SignedInRequest, id: int) -> Part:
    """Show one part of a workout."""
    return get_object_or_404(Part.objects.of(request.auth).select_related("activity"), pk=id)


@router.patch("/parts/{id}", response={200: PartAnswer, PROBLEMS: Problem})
def change_part(request: SignedInRequest, id: int, change: PartChange) -> Part:
    """Set a part's activity, its session-RPE, or both; its load is estimated anew."""
    part = get_object_or_404(Part.objects.of(request.auth).select_related("activity", "owner"), pk=id)
    wanted = activity_named(request.auth, change.activity) if change.activity is not None else None
    if wanted:
        edit_workout.set_activity(part, wanted)
    if "session_rpe" in change.model_fields_set:
        edit_workout.set_session_rpe(part, change.session_rpe)
    return part


def _workouts(athlete: Athlete) -> QuerySet[Workout]:
    return _with_contents(Workout.objects.of(athlete))


def _with_contents(workouts: QuerySet[Workout]) -> QuerySet[Workout]:
    files = Prefetch("recordings", Recording.objects.only("workout"))
    return workouts.prefetch_related("parts__activity", "tags", files)
