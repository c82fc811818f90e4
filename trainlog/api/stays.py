"""Stays in other time zones for programs; the log's API mounts this router."""

from django.shortcuts import get_object_or_404
from ninja import Field, Router, Schema
from ninja.pagination import paginate
from ninja.responses import Status
from pydantic import ConfigDict

from trainlog.api.pages import LinkedPages
from trainlog.api.schemas import Problem, SensibleDay, SignedInRequest, Text
from trainlog.models import Stay
from trainlog.services.stays import delete_stay, save_stay, stays_of

router = Router()


class StayNoted(Schema):
    """Days spent in another time zone."""

    model_config = ConfigDict(extra="forbid")

    time_zone: Text = Field(description="IANA name, for example Asia/Tokyo.", max_length=64)
    first_day: SensibleDay = Field(description="Local day there.")
    last_day: SensibleDay = Field(
        description="Local day there; another stay may begin on it, and counts from then on."
    )


class StayAnswer(StayNoted):
    """One stay; days and times of workouts in it go by the clock there."""

    id: int


@router.get("/stays", response={200: list[StayAnswer], frozenset({401, 422}): Problem})
@paginate(LinkedPages, place_of=lambda stay: (stay.first_day, stay.last_day, stay.pk), newest_first=True)
def stays(request: SignedInRequest) -> list[Stay]:
    """List all stays, newest first."""
    return stays_of(request.auth)


@router.post("/stays", response={201: StayAnswer, frozenset({401, 403, 422}): Problem})
def add_stay(request: SignedInRequest, noted: StayNoted) -> Status:
    """Note a stay; workouts move to their local days there."""
    return Status(201, save_stay(request.auth, Stay(**noted.dict())))


@router.get("/stays/{id}", response={200: StayAnswer, frozenset({401, 404, 422}): Problem})
def stay(request: SignedInRequest, id: int) -> Stay:
    """Show one stay."""
    return get_object_or_404(Stay.objects.of(request.auth), pk=id)


@router.delete("/stays/{id}", response={204: None, frozenset({401, 403, 404}): Problem})
def remove_stay(request: SignedInRequest, id: int) -> Status:
    """Delete a stay; its workouts go back to their local days at home. It can be put back for thirty days."""
    delete_stay(get_object_or_404(Stay.objects.of(request.auth).select_related("owner"), pk=id))
    return Status(204, None)
