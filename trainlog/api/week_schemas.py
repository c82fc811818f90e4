"""What the API answers about a week."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any

from ninja import Field, Schema

from trainlog.api.load_schemas import TotalLoad
from trainlog.load.week import Comparison
from trainlog.services.bands import BandMinutes, MinutesInBands
from trainlog.services.block import Block
from trainlog.services.doubt import WeekDoubt
from trainlog.services.held import FamilyCount
from trainlog.services.week import AgainstUsual, Day, Week


class MeasureAnswer(Schema):
    """In which measure the loads of an answer are; each has an arbitrary unit of its own."""

    measure: str = Field(description="trimp, zones, three_zones or session_rpe.")
    measure_in_words: str


class BandAnswer(Schema):
    """Minutes in one band of intensity, with their 80% interval."""

    band: str
    low: float
    median: float
    high: float


class TimeByIntensity(Schema):
    """Minutes by intensity, null where nothing is known of them; the two scales do not agree."""

    minutes_in_bands: list[BandAnswer] | None = Field(description="Of heart-rate reserve.")
    minutes_in_bands_of_maximum: list[BandAnswer] | None = Field(description="Of maximum heart rate.")


def bands_answer(found: MinutesInBands | None) -> dict[str, list[BandAnswer] | None]:
    """Describe time by intensity, as the fields of ``TimeByIntensity``."""

    def answers(bands: Sequence[BandMinutes]) -> list[BandAnswer]:
        return [BandAnswer(band=one.name, low=one.low, median=one.median, high=one.high) for one in bands]

    return {
        "minutes_in_bands": answers(found.bands) if found else None,
        "minutes_in_bands_of_maximum": answers(found.of_maximum) if found else None,
    }


class DayAnswer(Schema):
    """One local day of a week."""

    day: date
    parts: int
    load: TotalLoad | None = Field(description="null for a day without an estimated part.")
    unknown: bool = Field(description="Marked as not known; else a day without a part is rest.")

    @classmethod
    def of(cls, day: Day) -> DayAnswer:
        """Describe a day of the log."""
        return cls(
            day=day.date,
            parts=len(day.lines),
            load=TotalLoad.of(day.total),
            unknown=day.unknown is not None,
        )


class AgainstAnother(Schema):
    """A week against another load; of a week that is not over, up to the same day."""

    per_cent_likely_higher: int = Field(description="Probability in per cent, to the nearest 5.")
    change_low_per_cent: float = Field(description="80% interval of the change, in per cent of the other.")
    change_high_per_cent: float

    @classmethod
    def of(cls, change: Comparison | None) -> AgainstAnother | None:
        """Describe a comparison with the week before."""
        if change is None:
            return None
        return cls(
            per_cent_likely_higher=change.per_cent_likely,
            change_low_per_cent=change.low,
            change_high_per_cent=change.high,
        )


class AgainstUsualAnswer(AgainstAnother):
    """A week against the mean of the weeks before it."""

    weeks: int = Field(description="Weeks that the mean rests on, two to four; rest counts as no load.")

    @classmethod
    def of_usual(cls, against: AgainstUsual | None) -> AgainstUsualAnswer | None:
        """Describe a comparison with the usual week."""
        if against is None:
            return None
        change = against.comparison
        return cls(
            per_cent_likely_higher=change.per_cent_likely,
            change_low_per_cent=change.low,
            change_high_per_cent=change.high,
            weeks=against.weeks,
        )


class DoubtfulPartAnswer(Schema):
    """A part that makes much of the week's sensor doubt."""

    part: int
    workout: int
    day: date
    activity: str
    share_per_cent: float = Field(description="Of the variance of the week's load, sensor doubt only.")


class MainDoubtAnswer(Schema):
    """The one to three unmeasured parts that make most of the week's sensor doubt."""

    parts: list[DoubtfulPartAnswer]
    sensor_half_width: float = Field(description="Of the week, as in its load.")
    sensor_half_width_with_strap: float = Field(description="The same, had a strap recorded these parts.")

    @classmethod
    def of(cls, doubt: WeekDoubt | None) -> MainDoubtAnswer | None:
        """Describe what makes the doubt."""
        if doubt is None:
            return None
        return cls(
            parts=[
                DoubtfulPartAnswer(
                    part=one.part.pk,
                    workout=one.part.workout_id,
                    day=one.part.workout.day,
                    activity=one.part.activity.slug,
                    share_per_cent=one.per_cent,
                )
                for one in doubt.parts
            ],
            sensor_half_width=doubt.half_width,
            sensor_half_width_with_strap=doubt.half_width_if_measured,
        )


class FamilyAnswer(Schema):
    """Parts of one family of activities in a week."""

    family: str
    parts: int
    hours: float

    @classmethod
    def of(cls, count: FamilyCount) -> FamilyAnswer:
        """Describe a family's part of a week."""
        return cls(family=count.family, parts=count.parts, hours=count.seconds / 3600)


class SumAnswer(MeasureAnswer, TimeByIntensity):
    """A sum of parts' loads, and what it holds and rests on."""

    load: TotalLoad | None = Field(description="null where no part has an estimate.")
    confidence: str
    main_doubt: MainDoubtAnswer | None = Field(
        description="null where the sensor doubt is below 3%, no part stands out, or the parts are of more "
        "than 26 weeks."
    )
    share_by_basis: dict[str, float] = Field(description="Per cent of the sum of medians.")
    share_by_confidence: dict[str, float] = Field(description="The same by the confidence of the parts.")
    hours: float
    families: list[FamilyAnswer]
    session_rpe_load: float | None = Field(description="Rating times minutes of the rated parts, summed.")
    parts: int
    rated_parts: int
    stale_parts: int


def sum_answer(found: Week | Block) -> dict[str, Any]:
    """Describe a week or a block, as the fields of ``SumAnswer``."""
    return {
        "measure": found.measure.value,
        "measure_in_words": str(found.measure.label),
        "load": TotalLoad.of(found.total),
        "confidence": found.confidence,
        "main_doubt": MainDoubtAnswer.of(found.main_doubt),
        "share_by_basis": {share.basis: share.per_cent for share in found.shares},
        "share_by_confidence": {share.confidence: share.per_cent for share in found.shares_by_confidence},
        **bands_answer(found.bands),
        "hours": found.hours,
        "families": [FamilyAnswer.of(count) for count in found.families],
        "session_rpe_load": found.session_rpe_load,
        "parts": found.parts,
        "rated_parts": found.rated_parts,
        "stale_parts": found.pending,
    }


class WeekAnswer(SumAnswer):
    """Monday to Sunday of the athlete's time zone."""

    monday: date
    against_last: AgainstAnother | None
    against_usual: AgainstUsualAnswer | None = Field(
        description="null while fewer than two of the four weeks before have a load."
    )
    unknown_days: int = Field(
        description="Days marked as not known; with any, the load is at least this, and compared with none."
    )
    days: list[DayAnswer]

    @classmethod
    def of(cls, week: Week) -> WeekAnswer:
        """Describe a week of the log."""
        return cls(
            **sum_answer(week),
            monday=week.monday,
            against_last=AgainstAnother.of(week.against_last),
            against_usual=AgainstUsualAnswer.of_usual(week.against_usual),
            unknown_days=week.unknown_days,
            days=[DayAnswer.of(day) for day in week.days],
        )
