"""What the API takes and answers about plans and years."""

from __future__ import annotations

from datetime import date
from typing import Any

from ninja import Field, Schema
from pydantic import ConfigDict, field_validator

from trainlog.api.schemas import SensibleDay, Text
from trainlog.api.week_schemas import AgainstAnother
from trainlog.load.plan import AgainstRange, Open
from trainlog.services.plan import PlannedLine, PlanOfWeek
from trainlog.services.summed_loads import SummedLoad
from trainlog.services.years import Span, Years


class SummedLoadAnswer(Schema):
    """A sum of loads with its 80% interval, all doubt."""

    low: float
    median: float
    high: float

    @classmethod
    def of(cls, load: SummedLoad | Open | None) -> SummedLoadAnswer | None:
        """Describe a sum, or nothing."""
        return None if load is None else cls(low=load.low, median=load.median, high=load.high)


class RangeNoted(Schema):
    """Load meant for a week; one end is enough."""

    model_config = ConfigDict(extra="forbid")

    low: float | None = Field(None, description="Load at least, in the athlete's measure: 0 to 100,000.")
    high: float | None = Field(None, description="Load at most.")
    note: Text = Field("", max_length=4000)


class AgainstRangeAnswer(Schema):
    """Where the load of what is logged likely lies; each in per cent, to the nearest 5."""

    below_per_cent: int | None = Field(description="null where the range has no lower end.")
    within_per_cent: int
    above_per_cent: int | None = Field(description="null where the range has no upper end.")

    @classmethod
    def of(cls, likely: AgainstRange | None) -> AgainstRangeAnswer | None:
        """Describe probabilities, or none."""
        if likely is None:
            return None
        return cls(below_per_cent=likely.below, within_per_cent=likely.within, above_per_cent=likely.above)


class PlannedSessionNoted(Schema):
    """A session meant for a day."""

    model_config = ConfigDict(extra="forbid")

    day: SensibleDay = Field(description="Local day.")
    activity: Text = Field(description="Slug of the activity.")
    minutes: int | None = Field(None, description="1 to 1440, or null.")
    hard: bool = Field(False, description="Meant to be a hard one.")
    note: Text = Field("", max_length=400)


class PlannedSessionChange(Schema):
    """What is to change; what is left out stays."""

    model_config = ConfigDict(extra="forbid")

    day: SensibleDay | None = None
    activity: Text | None = Field(None, description="Slug of the activity.")
    minutes: int | None = Field(None, description="null takes the length back.")
    hard: bool | None = None
    note: Text | None = Field(None, max_length=400)

    @field_validator("day", "activity", "hard", "note")
    @classmethod
    def given(cls, value: Any) -> Any:
        """Refuse to empty what a session always has."""
        if value is None:
            raise ValueError("can be left out, but not null")
        return value


class PlannedSessionAnswer(Schema):
    """A planned session and what became of it."""

    id: int
    day: date
    activity: str = Field(description="Slug of the activity.")
    minutes: int | None
    hard: bool
    note: str
    state: str = Field(description="done, done otherwise, missed or to come.")
    part: int | None = Field(description="Part of a workout that met it: same activity, or same family.")
    workout: int | None

    @classmethod
    def of(cls, line: PlannedLine) -> PlannedSessionAnswer:
        """Describe a planned session."""
        session = line.session
        return cls(
            id=session.pk,
            day=session.day,
            activity=session.activity.slug,
            minutes=session.minutes,
            hard=session.hard,
            note=session.note,
            state=line.state.value,
            part=line.part.pk if line.part else None,
            workout=line.part.workout_id if line.part else None,
        )


class WeekPlanAnswer(Schema):
    """What is meant for a week, and how far it has come about."""

    monday: date
    measure: str = Field(description="Measure of load that the athlete goes by.")
    low: float | None = Field(description="null, as high, where no load is planned.")
    high: float | None
    note: str
    load: SummedLoadAnswer | None = Field(description="Of what is logged in the week.")
    likely: AgainstRangeAnswer | None = Field(description="null without a planned load or a load.")
    to_low: SummedLoadAnswer | None = Field(description="Still open up to low; null unless the week runs.")
    to_high: SummedLoadAnswer | None = Field(description="Still open up to high; null unless the week runs.")
    unknown_days: int = Field(description="Days marked unknown, whose load is not counted.")
    sessions: list[PlannedSessionAnswer]

    @classmethod
    def of(cls, plan: PlanOfWeek) -> WeekPlanAnswer:
        """Describe the plan of a week."""
        return cls(
            monday=plan.monday,
            measure=plan.measure,
            low=plan.range.low if plan.range else None,
            high=plan.range.high if plan.range else None,
            note=plan.range.note if plan.range else "",
            load=SummedLoadAnswer.of(plan.load),
            likely=AgainstRangeAnswer.of(plan.likely),
            to_low=SummedLoadAnswer.of(plan.to_low),
            to_high=SummedLoadAnswer.of(plan.to_high),
            unknown_days=plan.unknown_days,
            sessions=[PlannedSessionAnswer.of(line) for day in plan.days for line in day.lines],
        )


class SpanAnswer(Schema):
    """Totals from one local day to another."""

    first: date
    last: date
    workouts: int
    parts: int
    parts_without_load: int = Field(description="Missing from the load.")
    hours: float
    hours_by_family: dict[str, float]
    load: SummedLoadAnswer | None
    share_by_basis: dict[str, float] = Field(description="Per cent of the parts that have a load.")

    @classmethod
    def of(cls, span: Span) -> SpanAnswer:
        """Describe a year or a month."""
        return cls(
            first=span.first,
            last=span.last,
            workouts=span.workouts,
            parts=span.parts,
            parts_without_load=span.without_load,
            hours=span.hours,
            hours_by_family={one.family: one.hours for one in span.families},
            load=SummedLoadAnswer.of(span.load),
            share_by_basis={count.basis: count.per_cent for count in span.bases},
        )


class YearsAnswer(Schema):
    """Every year of the log, newest first, and the months of one."""

    measure: str
    years: list[SpanAnswer] = Field(description="The running year ends today.")
    months: list[SpanAnswer] = Field(description="Of the year asked for, or the newest.")
    until: date | None = Field(description="Day up to which last year is compared with the running one.")
    against_last: AgainstAnother | None = Field(description="The running year against last year until then.")

    @classmethod
    def of(cls, found: Years) -> YearsAnswer:
        """Describe the years of a log."""
        return cls(
            measure=found.measure,
            years=[SpanAnswer.of(span) for span in found.years],
            months=[SpanAnswer.of(span) for span in found.months],
            until=found.until,
            against_last=AgainstAnother.of(found.against_last),
        )
