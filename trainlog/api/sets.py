"""Sets of lifting for programs; the log's API mounts this router."""

from __future__ import annotations

from django.shortcuts import get_object_or_404
from ninja import Field, Router, Schema
from ninja.responses import Status
from pydantic import ConfigDict

from trainlog.api.schemas import Problem, Rating, SignedInRequest, Text
from trainlog.models import LiftSet, Part
from trainlog.services import lift_sets

PROBLEMS = frozenset({401, 403, 404, 422})

router = Router()


class SetLine(Schema):
    """What is said of a line of sets."""

    exercise: Text = Field("", description="At most 60 characters; a new line must name it.")
    sets: int = Field(1, description="1 to 100 sets alike.")
    repetitions: int | None = Field(None, description="In each set, 1 to 1000; a new line must say them.")
    kilograms: float | None = Field(
        None, description="Outside the body, 0 to 1000; null where only the body is moved."
    )
    rpe: Rating | None = Field(None, description="How hard a set was, 0 to 10.")


class SetNoted(SetLine):
    """A line of sets; what is left out of a change stays."""

    model_config = ConfigDict(extra="forbid")


class SetAnswer(SetLine):
    """One line of sets."""

    id: int
    part: int
    repetitions: int
    tonnage: float | None = Field(description="Kilograms moved; null where only the body was moved.")

    @staticmethod
    def resolve_part(row: LiftSet) -> int:
        """Id of the part."""
        return row.part_id


@router.get("/parts/{id}/sets", response={200: list[SetAnswer], PROBLEMS: Problem})
def sets(request: SignedInRequest, id: int) -> list[LiftSet]:
    """List the sets of a part in their order."""
    return list(LiftSet.objects.of(request.auth).filter(part=_part(request, id)).order_by("place"))


@router.post("/parts/{id}/sets", response={201: SetAnswer, PROBLEMS: Problem})
def add_set(request: SignedInRequest, id: int, noted: SetNoted) -> Status:
    """Add a line of sets at the end of a part; no load depends on it."""
    return Status(201, lift_sets.add_set(_part(request, id), noted.dict()))


@router.get("/sets/{id}", response={200: SetAnswer, PROBLEMS: Problem})
def one_set(request: SignedInRequest, id: int) -> LiftSet:
    """Show one line of sets."""
    return _row(request, id)


@router.patch("/sets/{id}", response={200: SetAnswer, PROBLEMS: Problem})
def change_set(request: SignedInRequest, id: int, noted: SetNoted) -> LiftSet:
    """Change a line of sets."""
    return lift_sets.change_set(_row(request, id), noted.dict(exclude_unset=True))


@router.delete("/sets/{id}", response={204: None, PROBLEMS: Problem})
def delete_set(request: SignedInRequest, id: int) -> Status:
    """Remove a line of sets; it can be put back for thirty days."""
    lift_sets.delete_set(_row(request, id))
    return Status(204, None)


def _part(request: SignedInRequest, id: int) -> Part:
    return get_object_or_404(Part.objects.of(request.auth).select_related("owner"), pk=id)


def _row(request: SignedInRequest, id: int) -> LiftSet:
    return get_object_or_404(LiftSet.objects.of(request.auth).select_related("owner"), pk=id)
