"""Mornings for programs; the log's API mounts this router."""

from datetime import date
from typing import Annotated

from django.http import Http404
from ninja import Field, File, Path, Query, Router, Schema
from ninja.files import UploadedFile
from ninja.pagination import paginate
from ninja.responses import Status
from pydantic import ConfigDict

from trainlog.api.pages import LinkedPages
from trainlog.api.schemas import Days, Problem, SensibleDay, SignedInRequest, Text
from trainlog.models import CheckIn
from trainlog.models.check_in import HIGHEST_MARK, LOWEST_MARK
from trainlog.services.check_in import (
    check_in_of,
    check_ins_between,
    delete_check_in,
    save_check_in,
    save_rr_file,
)
from trainlog.services.rr_file import LARGEST_BYTES

PROBLEMS = frozenset({401, 422})
CHANGE_PROBLEMS = frozenset({401, 403, 422})
NOT_FOUND = frozenset({401, 404, 422})
DELETE_PROBLEMS = frozenset({401, 403, 404, 422})

Mark = Annotated[int, Field(ge=LOWEST_MARK, le=HIGHEST_MARK)]

router = Router()


class CheckInNoted(Schema):
    """What is noted of a morning; what is left out or null is not noted."""

    model_config = ConfigDict(extra="forbid")

    resting_rate: float | None = Field(None, description="Resting heart rate, bpm: 25 to 120.")
    rmssd: float | None = Field(None, description="Milliseconds: 1 to 400.")
    sleep_hours: float | None = Field(None, description="0 to 24.")
    sleep_quality: Mark | None = Field(None, description="1 very, very good to 7 very, very bad.")
    fatigue: Mark | None = Field(None, description="1 very, very low to 7 very, very high.")
    stress: Mark | None = Field(None, description="1 very, very low to 7 very, very high.")
    soreness: Mark | None = Field(None, description="Of the muscles: 1 very, very low to 7 very, very high.")
    note: Text = Field("", max_length=4000)


class CheckInAnswer(CheckInNoted):
    """One morning."""

    day: date = Field(description="Local day.")
    rmssd_beats: int | None = Field(
        description="RR intervals behind rmssd, where it was worked out from a file of them."
    )
    rmssd_corrected_share: float | None = Field(
        description="Share (0 to 1) of those intervals that had to be corrected."
    )


@router.get("/check-ins", response={200: list[CheckInAnswer], PROBLEMS: Problem})
@paginate(LinkedPages, place_of=lambda morning: (morning.day,))
def check_ins(request: SignedInRequest, days: Annotated[Days, Query()]) -> list[CheckIn]:
    """List the mornings of a range of days, oldest first."""
    return check_ins_between(request.auth, *days.of(request.auth))


@router.get("/check-ins/{day}", response={200: CheckInAnswer, NOT_FOUND: Problem})
def check_in(request: SignedInRequest, day: Annotated[SensibleDay, Path()]) -> CheckIn:
    """Show what is noted of a morning."""
    return _noted(request, day)


@router.put("/check-ins/{day}", response={200: CheckInAnswer, CHANGE_PROBLEMS: Problem})
def put_check_in(
    request: SignedInRequest, day: Annotated[SensibleDay, Path()], noted: CheckInNoted
) -> CheckIn:
    """Keep what is noted of a morning, in place of whatever was noted of it before."""
    return save_check_in(request.auth, day, noted.dict())


@router.post("/check-ins/{day}/rr-file", response={200: CheckInAnswer, CHANGE_PROBLEMS: Problem})
def add_rr_file(
    request: SignedInRequest, day: Annotated[SensibleDay, Path()], file: Annotated[UploadedFile, File()]
) -> CheckIn:
    """Set a morning's rMSSD from a file of RR intervals, one to ten minutes at rest.

    Artefacts are corrected first, and a file of which more than 5% had to be is refused. The file itself is
    not kept; whatever else is noted of the morning stays.
    """
    return save_rr_file(request.auth, day, file.read(LARGEST_BYTES + 1))


@router.delete("/check-ins/{day}", response={204: None, DELETE_PROBLEMS: Problem})
def remove_check_in(request: SignedInRequest, day: Annotated[SensibleDay, Path()]) -> Status:
    """Delete what is noted of a morning; it can be put back for thirty days."""
    delete_check_in(_noted(request, day))
    return Status(204, None)


def _noted(request: SignedInRequest, day: date) -> CheckIn:
    found = check_in_of(request.auth, day)
    if found is None:
        raise Http404("nothing is noted of this morning")
    return found
