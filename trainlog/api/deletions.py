"""What was deleted lately, for programs; the log's API mounts this router."""

from datetime import datetime

from django.shortcuts import get_object_or_404
from ninja import Field, Router, Schema
from ninja.pagination import paginate
from ninja.responses import Status

from trainlog.api.pages import LinkedPages
from trainlog.api.schemas import Problem, SignedInRequest
from trainlog.models import Deletion, Workout
from trainlog.services.deletions import delete_for_good, deletions_of, until
from trainlog.services.undo import undo

PROBLEMS = frozenset({401, 403, 404, 422})

router = Router()


class DeletionAnswer(Schema):
    """What was deleted, and until when it can be put back."""

    id: int
    what: str = Field(description="In words: run of 24 November 2026.")
    deleted_at: datetime
    until: datetime = Field(description="From then on it cannot be put back any more.")

    @staticmethod
    def resolve_until(row: Deletion) -> datetime:
        """Instant from which it is gone for good."""
        return until(row)


class PutBackAnswer(Schema):
    """What was put back."""

    what: str
    workout: int | None = Field(description="Id of the workout that is there again; null for anything else.")
    remark: str = Field(description="What is not as it was; empty if all is.")


@router.get("/deleted", response={200: list[DeletionAnswer], frozenset({401, 422}): Problem})
@paginate(LinkedPages, place_of=lambda row: (row.deleted_at, row.pk), newest_first=True)
def deleted(request: SignedInRequest) -> list[Deletion]:
    """List what can be put back, newest first."""
    return list(deletions_of(request.auth))


@router.get("/deleted/{id}", response={200: DeletionAnswer, PROBLEMS: Problem})
def deletion(request: SignedInRequest, id: int) -> Deletion:
    """Show one deletion that can be put back."""
    return _deletion(request, id)


@router.post("/deleted/{id}/put-back", response={200: PutBackAnswer, PROBLEMS: Problem})
def put_back(request: SignedInRequest, id: int) -> PutBackAnswer:
    """Put back what was deleted, with the ids it had; refused where something stands in its place."""
    done = undo(_deletion(request, id))
    workout = done.row.pk if isinstance(done.row, Workout) else None
    return PutBackAnswer(what=done.what, workout=workout, remark=done.remark)


@router.delete("/deleted/{id}", response={204: None, PROBLEMS: Problem})
def remove_for_good(request: SignedInRequest, id: int) -> Status:
    """Forget what was deleted, with its original files; it cannot be put back any more."""
    delete_for_good(_deletion(request, id))
    return Status(204, None)


def _deletion(request: SignedInRequest, id: int) -> Deletion:
    return get_object_or_404(deletions_of(request.auth).select_related("owner"), pk=id)
