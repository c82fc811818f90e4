"""Days marked as not known for programs; the log's API mounts this router."""

from datetime import date
from typing import Annotated

from django.http import Http404
from ninja import Field, Path, Query, Router, Schema
from ninja.pagination import paginate
from ninja.responses import Status
from pydantic import ConfigDict

from trainlog.api.pages import LinkedPages
from trainlog.api.schemas import Days, Problem, SensibleDay, SignedInRequest, Text
from trainlog.models import UnknownDay
from trainlog.services.unknown_days import mark_unknown, unknown_days_between, unmark

router = Router()


class UnknownDayNoted(Schema):
    """What the athlete says of a day that is not known."""

    model_config = ConfigDict(extra="forbid")

    note: Text = Field("", max_length=400)


class UnknownDayAnswer(UnknownDayNoted):
    """A day that is neither rest nor any load in particular, whatever is logged on it."""

    day: date = Field(description="Local day.")


@router.get("/unknown-days", response={200: list[UnknownDayAnswer], frozenset({401, 422}): Problem})
@paginate(LinkedPages, place_of=lambda mark: (mark.day,))
def unknown_days(request: SignedInRequest, days: Annotated[Days, Query()]) -> list[UnknownDay]:
    """List the marked days of a range, oldest first."""
    return unknown_days_between(request.auth, *days.of(request.auth))


@router.get("/unknown-days/{day}", response={200: UnknownDayAnswer, frozenset({401, 404, 422}): Problem})
def unknown_day(request: SignedInRequest, day: Annotated[SensibleDay, Path()]) -> UnknownDay:
    """Show the mark of a day."""
    found = unknown_days_between(request.auth, day, day)
    if not found:
        raise Http404("this day is not marked")
    return found[0]


@router.put("/unknown-days/{day}", response={200: UnknownDayAnswer, frozenset({401, 403, 422}): Problem})
def put_unknown_day(
    request: SignedInRequest, day: Annotated[SensibleDay, Path()], noted: UnknownDayNoted
) -> UnknownDay:
    """Mark a day as not known."""
    return mark_unknown(request.auth, day, day, noted.note)[0]


@router.delete("/unknown-days/{day}", response={204: None, frozenset({401, 403, 404, 422}): Problem})
def remove_unknown_day(request: SignedInRequest, day: Annotated[SensibleDay, Path()]) -> Status:
    """Take the mark of a day back; without a workout it is rest again."""
    if not unmark(request.auth, day):
        raise Http404("this day is not marked")
    return Status(204, None)
