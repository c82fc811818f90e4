"""Recovery for programs; the log's API mounts this router."""

import math
from datetime import datetime
from typing import Annotated, Self

from django.shortcuts import get_object_or_404
from ninja import Field, Query, Router, Schema
from ninja.pagination import paginate
from ninja.responses import Status
from pydantic import ConfigDict

from trainlog.api.pages import LinkedPages
from trainlog.api.schemas import Days, Problem, SignedInRequest
from trainlog.models import Workout
from trainlog.services.recovery import Now, Recovery, recoveries_between, recovery_now
from trainlog.services.recovery_check import Checked, claim_recoveries, claims_of, recovery_check

PROBLEMS = frozenset({401, 422})
NOT_FOUND = frozenset({401, 404, 422})
CHANGE_PROBLEMS = frozenset({401, 403, 404, 422})

router = Router()


class Hours(Schema):
    """Hours with their 80% interval."""

    low: float
    median: float
    high: float

    @classmethod
    def of(cls, hours: tuple[float, float, float]) -> Self:
        """Describe a range."""
        low, median, high = hours
        return cls(low=low, median=median, high=high)


class RecoveryAnswer(Schema):
    """Estimated recovery from one workout; see the method page for how weak it is."""

    workout: int
    ended: datetime
    hours: Hours = Field(description="From its end until ready for the next hard session.")
    outdated: bool = Field(description="Whether one of its parts is being estimated anew.")

    @classmethod
    def of(cls, recovery: Recovery) -> Self:
        """Describe a recovery."""
        return cls(
            workout=recovery.workout.pk,
            ended=recovery.workout.end,
            hours=Hours.of(recovery.range),
            outdated=recovery.outdated,
        )


class NowAnswer(Schema):
    """What recent sessions leave until the next hard one."""

    hours: Hours = Field(description="From now.")
    per_cent_ready: int = Field(description="Chance, to the nearest 5%, that nothing holds back any more.")
    longest: RecoveryAnswer = Field(description="Of the session that takes longest.")

    @classmethod
    def of(cls, now: Now) -> Self:
        """Describe what is left."""
        return cls(
            hours=Hours.of(now.range),
            per_cent_ready=now.per_cent_ready,
            longest=RecoveryAnswer.of(now.longest),
        )


class CheckedAnswer(Schema):
    """What mornings showed of one session's recovery, and how the estimate stands to it."""

    estimated: RecoveryAnswer
    not_back_after: float = Field(description="Hours at which the figures were not back yet; 0 if unknown.")
    back_by: float | None = Field(description="Hours at which they were; null where that was not seen.")
    mornings_say: str = Field(description="earlier, within or later than the estimated range.")

    @classmethod
    def of(cls, one: Checked) -> Self:
        """Describe one session held against mornings."""
        return cls(
            estimated=RecoveryAnswer.of(one.recovery),
            not_back_after=one.observed.after,
            back_by=one.observed.by if math.isfinite(one.observed.by) else None,
            mornings_say=one.fit,
        )


class ClaimedHours(Schema):
    """Recovery hours that a device claimed after a workout; null takes a note back."""

    model_config = ConfigDict(extra="forbid")

    wrist: float | None = Field(None, description="From the wrist alone, 0 to 240.")
    strap: float | None = Field(None, description="Fed by a strap, 0 to 240.")


@router.get("/recovery", response={200: list[RecoveryAnswer], PROBLEMS: Problem})
@paginate(LinkedPages, place_of=lambda answer: (answer.ended, answer.workout))
def recoveries(request: SignedInRequest, days: Annotated[Days, Query()]) -> list[RecoveryAnswer]:
    """List the recovery from each workout of a range of days, oldest first."""
    return [RecoveryAnswer.of(one) for one in recoveries_between(request.auth, *days.of(request.auth))]


@router.get("/recovery/now", response={200: NowAnswer | None, PROBLEMS: Problem})
def now(request: SignedInRequest) -> NowAnswer | None:
    """Show what the sessions of the last three days leave for now; null where there is none."""
    found = recovery_now(request.auth)
    return NowAnswer.of(found) if found else None


@router.get("/recovery/check", response={200: list[CheckedAnswer], PROBLEMS: Problem})
@paginate(
    LinkedPages,
    place_of=lambda answer: (answer.estimated.ended, answer.estimated.workout),
    newest_first=True,
)
def check(request: SignedInRequest) -> list[CheckedAnswer]:
    """List the sessions of the last 120 days whose recovery mornings showed, newest first."""
    found = recovery_check(request.auth, request.auth.today())
    return [CheckedAnswer.of(one) for one in found.sessions]


@router.get("/workouts/{id}/claimed-recovery", response={200: ClaimedHours, NOT_FOUND: Problem})
def claimed(request: SignedInRequest, id: int) -> ClaimedHours:
    """Show the recovery hours that a device claimed after a workout."""
    return ClaimedHours(**claims_of(_workout(request, id)))


@router.patch("/workouts/{id}/claimed-recovery", response={200: ClaimedHours, CHANGE_PROBLEMS: Problem})
def claim(request: SignedInRequest, id: int, hours: ClaimedHours) -> Status:
    """Note claimed hours; what is left out stays as it is."""
    noted = claim_recoveries(_workout(request, id), hours.dict(exclude_unset=True))
    return Status(200, ClaimedHours(**noted))


def _workout(request: SignedInRequest, id: int) -> Workout:
    return get_object_or_404(Workout.objects.of(request.auth).select_related("owner"), pk=id)
