"""Plans and the totals of years for programs; the log's API mounts this router."""

from typing import Annotated, Any

from django.shortcuts import get_object_or_404
from ninja import Path, Query, Router
from ninja.pagination import paginate
from ninja.responses import Status

from trainlog.api.pages import LinkedPages
from trainlog.api.plan_schemas import (
    PlannedSessionAnswer,
    PlannedSessionChange,
    PlannedSessionNoted,
    RangeNoted,
    WeekPlanAnswer,
    YearsAnswer,
)
from trainlog.api.schemas import Days, Problem, SensibleDay, SignedInRequest, activity_named
from trainlog.models import Athlete, PlannedSession
from trainlog.services.plan import (
    clear_range,
    delete_session,
    plan_of_week,
    planned_lines,
    save_session,
    set_range,
)
from trainlog.services.years import years_of

PROBLEMS = frozenset({401, 422})
CHANGE_PROBLEMS = frozenset({401, 403, 422})
ROW_PROBLEMS = frozenset({401, 403, 404, 422})

router = Router()


@router.get("/weeks/{day}/plan", response={200: WeekPlanAnswer, PROBLEMS: Problem})
def week_plan(request: SignedInRequest, day: Annotated[SensibleDay, Path()]) -> WeekPlanAnswer:
    """Show what is meant for the week in which a day lies, and how far it has come about."""
    return WeekPlanAnswer.of(plan_of_week(request.auth, day, request.auth.today()))


@router.put("/weeks/{day}/plan", response={200: WeekPlanAnswer, CHANGE_PROBLEMS: Problem})
def put_week_plan(
    request: SignedInRequest, day: Annotated[SensibleDay, Path()], noted: RangeNoted
) -> WeekPlanAnswer:
    """Plan the load of a week, in place of what was planned before; its sessions stay."""
    set_range(request.auth, day, noted.low, noted.high, noted.note)
    return WeekPlanAnswer.of(plan_of_week(request.auth, day, request.auth.today()))


@router.delete("/weeks/{day}/plan", response={204: None, CHANGE_PROBLEMS: Problem})
def delete_week_plan(request: SignedInRequest, day: Annotated[SensibleDay, Path()]) -> Status:
    """Plan no load for a week; its sessions stay."""
    clear_range(request.auth, day)
    return Status(204, None)


@router.get("/planned-sessions", response={200: list[PlannedSessionAnswer], PROBLEMS: Problem})
@paginate(LinkedPages, place_of=lambda answer: (answer.day, answer.id))
def planned_sessions(request: SignedInRequest, days: Annotated[Days, Query()]) -> list[PlannedSessionAnswer]:
    """List the sessions planned for a range of days with what became of each, oldest first."""
    lines = planned_lines(request.auth, *days.of(request.auth), request.auth.today())
    return [PlannedSessionAnswer.of(line) for line in lines]


@router.post("/planned-sessions", response={201: PlannedSessionAnswer, CHANGE_PROBLEMS: Problem})
def plan_session(request: SignedInRequest, noted: PlannedSessionNoted) -> Status:
    """Plan a session."""
    return Status(201, _saved(request.auth, PlannedSession(owner=request.auth), noted.dict()))


@router.get("/planned-sessions/{id}", response={200: PlannedSessionAnswer, ROW_PROBLEMS: Problem})
def planned_session(request: SignedInRequest, id: int) -> PlannedSessionAnswer:
    """Show a planned session with what became of it."""
    return _answer(request.auth, get_object_or_404(PlannedSession.objects.of(request.auth), pk=id))


@router.patch("/planned-sessions/{id}", response={200: PlannedSessionAnswer, ROW_PROBLEMS: Problem})
def change_planned_session(
    request: SignedInRequest, id: int, change: PlannedSessionChange
) -> PlannedSessionAnswer:
    """Change a planned session; what is left out stays."""
    session = get_object_or_404(PlannedSession.objects.of(request.auth), pk=id)
    return _saved(request.auth, session, change.dict(exclude_unset=True))


@router.delete("/planned-sessions/{id}", response={204: None, ROW_PROBLEMS: Problem})
def delete_planned_session(request: SignedInRequest, id: int) -> Status:
    """Plan a session no more; it can be put back."""
    sessions = PlannedSession.objects.of(request.auth).select_related("owner", "activity")
    delete_session(get_object_or_404(sessions, pk=id))
    return Status(204, None)


@router.get("/years", response={200: YearsAnswer, PROBLEMS: Problem})
def years(
    request: SignedInRequest, year: Annotated[int | None, Query(ge=1970, le=2999)] = None
) -> YearsAnswer:
    """Show the totals of every year, newest first, and of the months of one: the newest if left out."""
    return YearsAnswer.of(years_of(request.auth, request.auth.today(), year))


def _saved(athlete: Athlete, session: PlannedSession, changes: dict[str, Any]) -> PlannedSessionAnswer:
    if "activity" in changes:
        changes["activity"] = activity_named(athlete, changes["activity"])
    save_session(session, changes)
    return _answer(athlete, session)


def _answer(athlete: Athlete, session: PlannedSession) -> PlannedSessionAnswer:
    lines = planned_lines(athlete, session.day, session.day, athlete.today())
    return PlannedSessionAnswer.of(next(line for line in lines if line.session.pk == session.pk))
