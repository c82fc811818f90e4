"""Estimates and weeks for programs, and when they changed; the log's API mounts this router."""

from datetime import date, datetime
from typing import Annotated

from django.db.models import QuerySet
from ninja import Field, Path, Query, Router, Schema
from ninja.pagination import paginate

from trainlog.api.load_schemas import EstimateAnswer
from trainlog.api.pages import LinkedPages
from trainlog.api.schemas import MeasuredDays, Problem, SensibleDay, SignedInRequest, Text, activity_named
from trainlog.api.week_schemas import WeekAnswer
from trainlog.models import Publication
from trainlog.services.lines import lines_between
from trainlog.services.publications import publications_after
from trainlog.services.week import week_of

PROBLEMS = frozenset({401, 422})

router = Router()


class EstimateFilter(MeasuredDays):
    """Days wanted, the measure, and the activity."""

    activity: Text = Field("", description="Slug of one of the athlete's activities; all if left out.")


class PublicationAnswer(Schema):
    """One change of the estimates on show."""

    id: int = Field(description="Rises with every change.")
    published_at: datetime
    parts: int = Field(description="Whose load is another than before, or was not there before.")
    first_day: date | None = Field(description="Local day of the earliest of them: ask for loads from it on.")


class After(Schema):
    """The last change that is known."""

    after: int = Field(0, ge=0, le=2**63 - 1, description="Id of the last change known; 0 for all there are.")
    page_size: int = Field(100, ge=1, le=1000)


@router.get("/estimates", response={200: list[EstimateAnswer], PROBLEMS: Problem})
@paginate(LinkedPages, place_of=lambda answer: (answer.start, answer.part))
def estimates(request: SignedInRequest, wanted: Annotated[EstimateFilter, Query()]) -> list[EstimateAnswer]:
    """List every part of a range of days with its load in one measure, oldest first."""
    activity = activity_named(request.auth, wanted.activity) if wanted.activity else None
    found = lines_between(request.auth, *wanted.of(request.auth), wanted.measure)
    return [
        EstimateAnswer.of(line) for line in found if activity is None or line.part.activity_id == activity.pk
    ]


@router.get("/publications", response={200: list[PublicationAnswer], PROBLEMS: Problem})
def publications(request: SignedInRequest, known: Annotated[After, Query()]) -> QuerySet[Publication]:
    """List when estimates on show changed, newest last; ask again with the last id to follow them.

    Changes are kept for ninety days.
    """
    return publications_after(request.auth, known.after)[: known.page_size]


@router.get("/weeks/{day}", response={200: WeekAnswer, PROBLEMS: Problem})
def week(request: SignedInRequest, day: Annotated[SensibleDay, Path()]) -> WeekAnswer:
    """Show the week in which a day lies."""
    return WeekAnswer.of(week_of(request.auth, day, request.auth.today()))
