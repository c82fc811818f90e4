"""What the athlete chose of how load is shown, for programs; the log's API mounts this router."""

from __future__ import annotations

from ninja import Field, Router, Schema
from pydantic import ConfigDict

from trainlog.api.schemas import Problem, SignedInRequest
from trainlog.models import Athlete, Measure
from trainlog.services.trend_settings import choose

PROBLEMS = frozenset({401, 422})
CHANGE_PROBLEMS = frozenset({401, 403, 422})

router = Router()


class LoadSettings(Schema):
    """Measure and spans."""

    measure: Measure = Field(description="In which loads are shown; no load changes with it.")
    acute_days: int = Field(description="Of acute load, 1 to 120.")
    chronic_days: int = Field(description="Of chronic load, more than of acute load.")
    slow_days: int = Field(description="Time constant of the slow response.")
    fast_days: int = Field(description="Time constant of the fast response, fewer than of the slow one.")


class LoadSettingsChange(Schema):
    """What is left out stays as it is."""

    model_config = ConfigDict(extra="forbid")

    measure: Measure | None = None
    acute_days: int | None = None
    chronic_days: int | None = None
    slow_days: int | None = None
    fast_days: int | None = None


@router.get("/settings", response={200: LoadSettings, PROBLEMS: Problem})
def settings(request: SignedInRequest) -> Athlete:
    """Show in which measure loads are shown, and the spans of the trend."""
    return request.auth


@router.patch("/settings", response={200: LoadSettings, CHANGE_PROBLEMS: Problem})
def change_settings(request: SignedInRequest, change: LoadSettingsChange) -> Athlete:
    """Choose another measure, other spans, or both; other spans have the trend worked out anew."""
    choose(request.auth, change.dict(exclude_none=True))
    return request.auth
