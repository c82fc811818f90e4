"""The log for programs: each operation parses, calls one service, and shows the result."""

from typing import Annotated, Any

from django.conf import settings
from django.contrib.auth.decorators import login_required
from django.core import exceptions
from django.core.exceptions import TooManyFilesSent
from django.db.models import Prefetch, QuerySet
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from ninja import File, NinjaAPI, Path, Query
from ninja import errors as ninja_errors
from ninja.files import UploadedFile
from ninja.pagination import CursorPagination, paginate
from ninja.responses import Status
from pydantic import ValidationError as InvalidCursor

from trainlog.api.check_in import router as check_ins
from trainlog.api.deletions import DeletionAnswer
from trainlog.api.deletions import router as deletions
from trainlog.api.offers import router as offers
from trainlog.api.parts import router as parts
from trainlog.api.plan import router as plans
from trainlog.api.recovery import router as recovery
from trainlog.api.schemas import (
    EstimateAnswer,
    FileAnswer,
    FileDetail,
    MeasuredDays,
    PartAnswer,
    PartChange,
    Problem,
    SensibleDay,
    SignedInRequest,
    TypedWorkout,
    WorkoutAnswer,
    WorkoutChange,
    WorkoutFilter,
    activity_named,
)
from trainlog.api.sets import router as lift_sets
from trainlog.api.settings import router as load_settings
from trainlog.api.several import router as several
from trainlog.api.stays import router as stays
from trainlog.api.trend import router as trend
from trainlog.api.unknown_days import router as unknown_days
from trainlog.api.week_schemas import WeekAnswer
from trainlog.api.who import SignedIn, Token
from trainlog.models import Athlete, Deletion, Part, Recording, Workout
from trainlog.readers.errors import UnreadableFile
from trainlog.services import edit_workout
from trainlog.services.delete_workouts import delete_recording, delete_workout
from trainlog.services.find_workouts import find_workouts
from trainlog.services.import_files import check_size, receive_all
from trainlog.services.lines import lines_between
from trainlog.services.tags import describe_workout
from trainlog.services.typed_session import log_session
from trainlog.services.week import week_of

TITLES = {
    400: "Not understood",
    401: "Sign in first",
    403: "Not allowed",
    404: "Not found",
    413: "Too large",
    422: "Cannot be used",
}
PROBLEMS = frozenset({401, 403, 404, 422})

api = NinjaAPI(
    title="Training log",
    version="1",
    description="Workouts, loads and weeks of your log. A program sends a token that you make under Account, "
    "Programs, in the header Authorization: Bearer; one that may only read is refused (403) where something "
    "would change. A token is asked for no second step. In a browser that has signed in, its second step "
    "taken where there is one, the session cookie is the key, and requests that change "
    "something carry the site's CSRF token in the header X-CSRFToken; this page sends it by itself. No "
    "operation makes tokens or deletes the log: both ask for a person. A load is in the arbitrary unit of "
    "its measure, which is the athlete's choice (at first Banister's training impulse); heart rate in "
    "beats a minute, and a problem is answered with a title and a detail in words. "
    "Whole tables, as CSV or Parquet with types and units, are at /export/workouts.csv, "
    "/export/check-ins.csv, /export/sets.csv, and the same with .parquet; `first` and "
    "`last` choose local days.",
    auth=[Token(), SignedIn()],
    docs_decorator=login_required,
)


def problem(request: HttpRequest, status: int, detail: str) -> HttpResponse:
    """Answer that says what is wrong."""
    title = TITLES.get(status, "Not carried out")
    return api.create_response(request, {"title": title, "detail": detail}, status=status)


@api.exception_handler(ninja_errors.AuthenticationError)
def nobody(request: HttpRequest, error: ninja_errors.AuthenticationError) -> HttpResponse:
    """401: there is neither a session nor a valid token."""
    detail = "Send a token that is valid (Authorization: Bearer …), or sign in on the site."
    answer = problem(request, 401, detail)
    answer["WWW-Authenticate"] = "Bearer"
    return answer


@api.exception_handler(ninja_errors.HttpError)
def refused(request: HttpRequest, error: ninja_errors.HttpError) -> HttpResponse:
    """Whatever else is refused before the operation runs, such as a missing CSRF token."""
    return problem(request, error.status_code, str(error))


@api.exception_handler(Http404)
def not_found(request: HttpRequest, error: Http404) -> HttpResponse:
    """404: not there, or not this athlete's."""
    return problem(request, 404, "There is nothing of this kind with this number in your log.")


@api.exception_handler(ninja_errors.ValidationError)
def unusable(request: HttpRequest, error: ninja_errors.ValidationError) -> HttpResponse:
    """422: what was sent does not have the documented form."""
    return problem(request, 422, "; ".join(_place_and_message(part) for part in error.errors))


@api.exception_handler(exceptions.ValidationError)
def impossible(request: HttpRequest, error: exceptions.ValidationError) -> HttpResponse:
    """422: what was sent cannot be."""
    return problem(request, 422, " ".join(error.messages))


@api.exception_handler(InvalidCursor)
def invalid_cursor(request: HttpRequest, error: InvalidCursor) -> HttpResponse:
    """422: a cursor that no answer of ours held."""
    return problem(request, 422, "This cursor is damaged; start again without one.")


@api.exception_handler(TooManyFilesSent)
def too_many_files(request: HttpRequest, error: TooManyFilesSent) -> HttpResponse:
    """413: more files at once than the site takes."""
    return problem(request, 413, f"Send at most {settings.MAX_FILES_AT_ONCE} files at once.")


@api.post("/files", response={202: list[FileAnswer], PROBLEMS: Problem}, tags=["files"])
def add_files(request: SignedInRequest, files: Annotated[list[UploadedFile], File()]) -> Status:
    """Add training files, each answered for itself; an archive is answered file by file.

    Bytes that are in the log already change nothing and answer with the file that is there. Reading goes on
    after the answer: ask for a file's state until it is no longer "received".
    """
    return Status(202, [answer for file in files for answer in _receive(request.auth, file)])


@api.get("/files/{id}", response={200: FileDetail, PROBLEMS: Problem}, tags=["files"])
def file(request: SignedInRequest, id: int) -> FileDetail:
    """Show what became of a file and what was found in it."""
    recordings = Recording.objects.of(request.auth).select_related("sensor").defer("trace_blob")
    return FileDetail.of(get_object_or_404(recordings, pk=id))


@api.delete("/files/{id}", response={200: DeletionAnswer, PROBLEMS: Problem}, tags=["files"])
def remove_file(request: SignedInRequest, id: int) -> Deletion:
    """Delete a file and its recording; it can be put back for thirty days.

    A workout that loses its last recording goes too, unless it was typed in.
    """
    rows = Recording.objects.of(request.auth).defer("trace_blob").select_related("owner", "workout")
    return delete_recording(get_object_or_404(rows, pk=id))


@api.get("/workouts", response={200: list[WorkoutAnswer], PROBLEMS: Problem}, tags=["workouts"])
@paginate(CursorPagination, ordering=("-start", "-pk"), page_size=50, max_page_size=200)
def workouts(request: SignedInRequest, wanted: Annotated[WorkoutFilter, Query()]) -> QuerySet[Workout]:
    """List workouts with their parts, newest first: all, or those that are all that is asked for."""
    return _with_contents(find_workouts(request.auth, wanted.of(request.auth)))


@api.post("/workouts", response={201: WorkoutAnswer, PROBLEMS: Problem}, tags=["workouts"])
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


@api.get("/workouts/{id}", response={200: WorkoutAnswer, PROBLEMS: Problem}, tags=["workouts"])
def workout(request: SignedInRequest, id: int) -> Workout:
    """Show one workout with its parts."""
    return get_object_or_404(_workouts(request.auth), pk=id)


@api.patch("/workouts/{id}", response={200: WorkoutAnswer, PROBLEMS: Problem}, tags=["workouts"])
def change_workout(request: SignedInRequest, id: int, change: WorkoutChange) -> Workout:
    """Set a workout's note, its tags, or both; no load depends on them."""
    changed = get_object_or_404(Workout.objects.of(request.auth).select_related("owner"), pk=id)
    describe_workout(changed, note=change.note, tags=change.tags)
    return _workouts(request.auth).get(pk=id)


@api.delete("/workouts/{id}", response={200: DeletionAnswer, PROBLEMS: Problem}, tags=["workouts"])
def remove_workout(request: SignedInRequest, id: int) -> Deletion:
    """Delete a workout with its recordings; it can be put back for thirty days."""
    return delete_workout(get_object_or_404(Workout.objects.of(request.auth).select_related("owner"), pk=id))


@api.patch("/parts/{id}", response={200: PartAnswer, PROBLEMS: Problem}, tags=["workouts"])
def change_part(request: SignedInRequest, id: int, change: PartChange) -> Part:
    """Set a part's activity, its session-RPE, or both; its load is estimated anew."""
    part = get_object_or_404(Part.objects.of(request.auth).select_related("activity", "owner"), pk=id)
    wanted = activity_named(request.auth, change.activity) if change.activity is not None else None
    if wanted:
        edit_workout.set_activity(part, wanted)
    if "session_rpe" in change.model_fields_set:
        edit_workout.set_session_rpe(part, change.session_rpe)
    return part


@api.get("/estimates", response={200: list[EstimateAnswer], PROBLEMS: Problem}, tags=["loads"])
def estimates(request: SignedInRequest, days: Annotated[MeasuredDays, Query()]) -> list[EstimateAnswer]:
    """List every part of a range of days with its load in one measure, oldest first."""
    found = lines_between(request.auth, *days.of(request.auth), days.measure)
    return [EstimateAnswer.of(line) for line in found]


@api.get("/weeks/{day}", response={200: WeekAnswer, PROBLEMS: Problem}, tags=["loads"])
def week(request: SignedInRequest, day: Annotated[SensibleDay, Path()]) -> WeekAnswer:
    """Show the week in which a day lies."""
    return WeekAnswer.of(week_of(request.auth, day, request.auth.today()))


api.add_router("", check_ins, tags=["mornings"])
api.add_router("", trend, tags=["loads"])
api.add_router("", load_settings, tags=["loads"])
api.add_router("", offers, tags=["mornings"])
api.add_router("", recovery, tags=["recovery"])
api.add_router("", plans, tags=["plans"])
api.add_router("", parts, tags=["workouts"])
api.add_router("", lift_sets, tags=["sets of lifting"])
api.add_router("", stays, tags=["days"])
api.add_router("", unknown_days, tags=["days"])
api.add_router("", several, tags=["workouts"])
api.add_router("", deletions, tags=["deleted lately"])
# A string, so that the log knows nothing of whoever learns about sensors.
api.add_router("", "accuracy.api.router", tags=["sensors"])
api.add_router("", "accuracy.api_reports.router", tags=["reports"])


def _receive(athlete: Athlete, file: UploadedFile) -> list[FileAnswer]:
    name = file.name or "unnamed"
    try:
        check_size(file.size or 0)
    except UnreadableFile as refusal:
        return [_refused(name, str(refusal))]
    received = receive_all(athlete, name, file.read())
    return [FileAnswer.of(recording) for recording in received.recordings] + [
        _refused(refusal.name, refusal.problem) for refusal in received.refusals
    ]


def _refused(name: str, problem: str) -> FileAnswer:
    return FileAnswer(id=None, name=name, state=Recording.State.REFUSED, problem=problem)


def _workouts(athlete: Athlete) -> QuerySet[Workout]:
    return _with_contents(Workout.objects.of(athlete))


def _with_contents(workouts: QuerySet[Workout]) -> QuerySet[Workout]:
    files = Prefetch("recordings", Recording.objects.only("workout"))
    return workouts.prefetch_related("parts__activity", "tags", files)


def _place_and_message(part: dict[str, Any]) -> str:
    place = ".".join(str(step) for step in part.get("loc", ())[1:])
    return f"{place}: {part.get('msg', part)}" if place else str(part.get("msg", part))
