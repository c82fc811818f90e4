"""Files for programs: added, shown, handed out again, deleted; the log's API mounts this router."""

from typing import Annotated

from django.db.models import QuerySet
from django.http import FileResponse, Http404
from django.shortcuts import get_object_or_404
from ninja import Field, File, Query, Router, Schema
from ninja.files import UploadedFile
from ninja.pagination import paginate
from ninja.responses import Status

from trainlog import originals
from trainlog.api.deletions import DeletionAnswer
from trainlog.api.document import MEDIA_TYPES
from trainlog.api.file_schemas import FileAnswer, FileDetail, ReceivedFile
from trainlog.api.pages import NamedPages
from trainlog.api.schemas import Problem, SignedInRequest
from trainlog.api.seconds import hand_out
from trainlog.models import Athlete, Deletion, Recording
from trainlog.readers.errors import UnreadableFile
from trainlog.services.delete_workouts import delete_recording
from trainlog.services.import_files import check_size, receive_all
from trainlog.services.second_by_second import Columns, columns_of

PROBLEMS = frozenset({401, 403, 404, 422})

router = Router()


class FileFilter(Schema):
    """What files are looked for; whatever is left out does not matter."""

    state: Recording.State | None = Field(None, description="received, read or refused.")


@router.get("/files", response={200: list[FileDetail], frozenset({401, 422}): Problem})
@paginate(NamedPages, ordering=("-received_at", "-pk"), page_size=50, max_page_size=200)
def files(request: SignedInRequest, wanted: Annotated[FileFilter, Query()]) -> QuerySet[Recording]:
    """List files, the one received last first."""
    return _files(request.auth).filter(**wanted.dict(exclude_none=True))


@router.post("/files", response={202: list[ReceivedFile], frozenset({401, 403, 409, 413, 422}): Problem})
def add_files(request: SignedInRequest, files: Annotated[list[UploadedFile], File()]) -> Status:
    """Add training files, each answered for itself; an archive is answered file by file.

    Bytes that are in the log already change nothing and answer with the file that is there, as a duplicate.
    Reading goes on after the answer: ask for a file's state until it is no longer "received".
    """
    return Status(202, [answer for file in files for answer in _receive(request.auth, file)])


@router.get("/files/{id}", response={200: FileDetail, PROBLEMS: Problem})
def file(request: SignedInRequest, id: int) -> Recording:
    """Show what became of a file and what was found in it."""
    return get_object_or_404(_files(request.auth), pk=id)


@router.delete("/files/{id}", response={200: DeletionAnswer, PROBLEMS: Problem})
def remove_file(request: SignedInRequest, id: int) -> Deletion:
    """Delete a file and its recording; it can be put back for thirty days.

    A workout that loses its last recording goes too, unless it was typed in.
    """
    rows = Recording.objects.of(request.auth).defer("trace_blob").select_related("owner", "workout")
    return delete_recording(get_object_or_404(rows, pk=id))


@router.get(
    "/files/{id}/original",
    response={200: bytes, PROBLEMS: Problem},
    openapi_extra={MEDIA_TYPES: ["application/octet-stream"]},
)
def original(request: SignedInRequest, id: int) -> FileResponse:
    """Hand out the bytes that were uploaded, as they were."""
    recording = get_object_or_404(_files(request.auth), pk=id)
    path = originals.path_of(recording.owner_id, recording.sha256)
    if not path.exists():
        raise Http404("the original of this file is no longer on disk")
    answer = FileResponse(
        path.open("rb"),
        as_attachment=True,
        filename=recording.file_name,
        content_type="application/octet-stream",
    )
    answer["ETag"] = f'"{recording.sha256}"'
    return answer


def _columns_of(athlete: Athlete, id: int) -> Columns:
    rows = Recording.objects.of(athlete).filter(state=Recording.State.READ)
    return columns_of(get_object_or_404(rows, pk=id).trace())


hand_out(
    router,
    "/files/{id}/trace",
    "trace",
    _columns_of,
    "Hand out a recording second by second, as {kind}: time in UTC, heart rate in bpm, and what else was "
    "recorded, with its unit in its name; empty where nothing was.",
)


def _files(athlete: Athlete) -> QuerySet[Recording]:
    return Recording.objects.of(athlete).select_related("sensor").defer("trace_blob")


def _receive(athlete: Athlete, file: UploadedFile) -> list[ReceivedFile]:
    name = file.name or "unnamed"
    try:
        check_size(file.size or 0)
    except UnreadableFile as refusal:
        return [_refused(name, str(refusal))]
    received = receive_all(athlete, name, file.read())
    known = {recording.pk for recording in received.known}
    return [
        ReceivedFile(**FileAnswer.of(recording).dict(), duplicate=recording.pk in known)
        for recording in received.recordings
    ] + [_refused(refusal.name, refusal.problem) for refusal in received.refusals]


def _refused(name: str, problem: str) -> ReceivedFile:
    return ReceivedFile(id=None, name=name, state=Recording.State.REFUSED, problem=problem, duplicate=False)
