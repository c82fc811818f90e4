"""The trend over days and any block of days for programs; the log's API mounts this router."""

from __future__ import annotations

from datetime import date
from typing import Annotated

import numpy as np
from django.core.exceptions import ValidationError
from ninja import Field, Query, Router, Schema
from pydantic import ConfigDict

from trainlog.api.schemas import MeasuredDays, Problem, SensibleDay, SignedInRequest
from trainlog.api.week_schemas import (
    AgainstAnother,
    MeasureAnswer,
    SumAnswer,
    sum_answer,
)
from trainlog.load.trend_figures import FIGURES
from trainlog.services.block import Block, block_of
from trainlog.services.trend import TrendSpan, trend_between
from trainlog.trace import FloatArray

PROBLEMS = frozenset({401, 422})

router = Router()


class Interval(Schema):
    """A figure with its 80% interval."""

    low: float
    median: float
    high: float


class TrendDayAnswer(Schema):
    """One local day; a figure is null where it is not defined."""

    day: date
    unknown: bool = Field(description="Marked as not known, so its load is drawn.")
    load: Interval | None
    week: Interval | None = Field(description="Load since Monday, this day counted.")
    acute: Interval | None = Field(description="Exponentially weighted average, a day.")
    chronic: Interval | None = Field(description="The same over more days; contains the acute load.")
    slow: Interval | None = Field(description="Decaying sum of daily loads.")
    fast: Interval | None = Field(description="The same with the short time constant.")
    net_response: Interval | None = Field(description="Slow response less twice the fast one: a shape.")
    monotony: Interval | None = Field(description="Of the seven days that end with this one.")
    strain: Interval | None = Field(description="Load of the same days times their monotony.")
    ratio: Interval | None = Field(description="Acute over chronic load; predicts no injury.")
    acute_window: Interval | None = Field(description="Plain mean of as many days as the acute average has.")
    chronic_window: Interval | None = Field(description="The same of the chronic average's days.")


class TrendAnswer(MeasureAnswer):
    """The trend over days; days before the log, and days to come, are left out."""

    acute_days: int
    chronic_days: int
    slow_days: int
    fast_days: int
    days: list[TrendDayAnswer]


class BlockDays(Schema):
    """First and last day of a block, both included."""

    model_config = ConfigDict(populate_by_name=True)

    first: SensibleDay = Field(alias="from")
    last: SensibleDay = Field(alias="to")


class BlockAnswer(SumAnswer):
    """A span of days, told as a week is."""

    first: date
    last: date
    against_before: AgainstAnother | None = Field(
        description="Against as many days before it; null where the log does not reach back so far, or "
        "holds no load there, or a day of either is not known."
    )
    before_first: date = Field(description="First day of what it is compared with.")
    before_last: date

    @classmethod
    def of(cls, block: Block) -> BlockAnswer:
        """Describe a block of the log."""
        return cls(
            **sum_answer(block),
            first=block.first,
            last=block.last,
            against_before=AgainstAnother.of(block.against_before),
            before_first=block.before[0],
            before_last=block.before[1],
        )


@router.get("/trend", response={200: TrendAnswer, PROBLEMS: Problem})
def trend(request: SignedInRequest, days: Annotated[MeasuredDays, Query()]) -> TrendAnswer:
    """Show acute and chronic load, both responses, monotony and strain on each of a range of days."""
    athlete = request.auth
    found = trend_between(athlete, *days.of(athlete), days.measure)
    marked = set(found.unknown)
    return TrendAnswer(
        measure=found.measure.value,
        measure_in_words=str(found.measure.label),
        acute_days=athlete.acute_days,
        chronic_days=athlete.chronic_days,
        slow_days=athlete.slow_days,
        fast_days=athlete.fast_days,
        days=[
            TrendDayAnswer(day=day, unknown=day in marked, **_figures(found, place))
            for place, day in enumerate(found.days)
        ],
    )


@router.get("/blocks", response={200: BlockAnswer, PROBLEMS: Problem})
def block(request: SignedInRequest, days: Annotated[BlockDays, Query()]) -> BlockAnswer:
    """Show any span of days as a week is shown, against the equally long span before it."""
    if days.first > days.last:
        raise ValidationError("“from” must not be after “to”.")
    return BlockAnswer.of(block_of(request.auth, days.first, days.last))


def _figures(found: TrendSpan, place: int) -> dict[str, Interval | None]:
    return {name: _interval(found.on(place, name)) for name in FIGURES}


def _interval(values: FloatArray) -> Interval | None:
    if not np.isfinite(values).all():
        return None
    low, median, high = (float(value) for value in values)
    return Interval(low=low, median=median, high=high)
