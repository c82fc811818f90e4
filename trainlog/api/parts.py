"""Where the parts of a workout begin and end, for programs; the log's API mounts this router."""

from __future__ import annotations

from datetime import datetime

from django.core.exceptions import ValidationError
from django.shortcuts import get_object_or_404
from ninja import Field, Router, Schema
from pydantic import AwareDatetime, ConfigDict

from trainlog.api.schemas import Problem, SignedInRequest
from trainlog.api.workout_schemas import PartAnswer
from trainlog.models import Part
from trainlog.services import edit_workout

PROBLEMS = frozenset({401, 403, 404, 422})

router = Router()


class Place(Schema):
    """An instant of a workout."""

    model_config = ConfigDict(extra="forbid")

    at: AwareDatetime | None = Field(
        None, description="Must be given; at least a minute from where either part begins or ends."
    )

    @property
    def whole_second(self) -> datetime:
        """The instant without its fraction of a second.

        Raises
        ------
        ValidationError
            If it was left out.
        """
        if self.at is None:
            raise ValidationError("Say where, as “at”.")
        return self.at.replace(microsecond=0)


@router.post("/parts/{id}/boundary", response={200: list[PartAnswer], PROBLEMS: Problem})
def move_boundary(request: SignedInRequest, id: int, place: Place) -> list[Part]:
    """Move the end of a part, and with it the beginning of the next; both are estimated anew."""
    part = _part(request, id)
    edit_workout.move_boundary(part, place.whole_second)
    return _from(part)[:2]


@router.post("/parts/{id}/split", response={200: list[PartAnswer], PROBLEMS: Problem})
def split(request: SignedInRequest, id: int, place: Place) -> list[Part]:
    """Cut a part in two; the later one is new and keeps the activity."""
    part = _part(request, id)
    edit_workout.split_part(part, place.whole_second)
    return _from(part)[:2]


@router.post("/parts/{id}/join", response={200: list[PartAnswer], PROBLEMS: Problem})
def join(request: SignedInRequest, id: int) -> list[Part]:
    """Let a part take in the one after it."""
    part = _part(request, id)
    edit_workout.join_with_next(part)
    return _from(part)[:1]


def _part(request: SignedInRequest, id: int) -> Part:
    return get_object_or_404(Part.objects.of(request.auth).select_related("owner", "workout"), pk=id)


def _from(part: Part) -> list[Part]:
    """A part and those after it."""
    parts = Part.objects.of(part.owner).filter(workout=part.workout_id, start__gte=part.start)
    return list(parts.select_related("activity").order_by("start"))
