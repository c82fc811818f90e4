"""What the schemas of all operations share; all times are ISO 8601 with a zone, all days local."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Annotated

from django.core.exceptions import ValidationError
from django.http import HttpRequest
from ninja import Field, Schema
from pydantic import AfterValidator, ConfigDict

from trainlog.api.problems import Problem  # noqa: F401
from trainlog.load.session_rpe import HIGHEST_RATING
from trainlog.models import Activity, Athlete, Measure
from trainlog.sensible_days import EARLIEST_DAY, LATEST_DAY

LONGEST_RANGE_DAYS = 400
"""Days of estimates or pairs that one answer holds at most."""

DEFAULT_RANGE_DAYS = 28

Rating = Annotated[float, Field(ge=0, le=HIGHEST_RATING, description="CR10: 0 is rest, 10 maximal.")]
Id = Annotated[int, Field(ge=1, le=2**63 - 1)]
"""Number of a row; a database takes no larger one."""

SensibleDay = Annotated[date, Field(ge=EARLIEST_DAY, le=LATEST_DAY)]


def _storable(text: str) -> str:
    if "\0" in text or any("\ud800" <= character <= "\udfff" for character in text):
        raise ValueError("holds a character that no text can be kept with; take it out")
    return text


Text = Annotated[str, AfterValidator(_storable)]
"""Text that a database takes: JSON may hold a null character, or half of a pair that makes one character."""


class SignedInRequest(HttpRequest):
    """A request that a session or a token let through."""

    auth: Athlete


class Days(Schema):
    """First and last local day wanted, both included."""

    model_config = ConfigDict(populate_by_name=True)

    first: SensibleDay | None = Field(None, alias="from", description="If left out, 27 days before the last.")
    last: SensibleDay | None = Field(None, alias="to", description="Today if left out.")

    def of(self, athlete: Athlete) -> tuple[date, date]:
        """Both days, filled in by the athlete's today.

        Raises
        ------
        ValidationError
            If they are in the wrong order or too far apart.
        """
        last = self.last or athlete.today()
        first = self.first or last - timedelta(days=DEFAULT_RANGE_DAYS - 1)
        if first > last:
            raise ValidationError("“from” must not be after “to”.")
        if (last - first).days >= LONGEST_RANGE_DAYS:
            raise ValidationError(f"Ask for at most {LONGEST_RANGE_DAYS} days at a time.")
        return first, last


class MeasuredDays(Days):
    """Days wanted, and the measure."""

    measure: Measure | None = Field(None, description="The one that the athlete has chosen if left out.")


def activity_named(athlete: Athlete, slug: str) -> Activity:
    """One of an athlete's activities.

    Raises
    ------
    ValidationError
        If there is none of that slug, with those there are.
    """
    known = {activity.slug: activity for activity in Activity.objects.of(athlete)}
    if slug not in known:
        raise ValidationError(f"There is no activity “{slug}” in your log; there are {', '.join(known)}.")
    return known[slug]
