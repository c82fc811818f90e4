"""Loads as operations answer them."""

from __future__ import annotations

import math
from datetime import date, datetime

from ninja import Field, Schema

from trainlog.load.week import Total
from trainlog.models import LoadEstimate
from trainlog.services.lines import PartLine


class Load(Schema):
    """A load with its doubt, in the arbitrary unit of its measure."""

    low: float = Field(description="Lower bound of the 80% interval, all doubt.")
    median: float
    high: float = Field(description="Upper bound of the 80% interval, all doubt.")
    sensor_half_width: float | None = Field(
        description="Half-width of the 80% interval over the median (0.1 is ±10%), from the sensor's doubt "
        "alone; null where the median is 0."
    )


class PartLoadAnswer(Load):
    """Load of one part."""

    basis: str = Field(
        description="measured, accepted, corrected, combined, reported, uncorrected or missing."
    )
    confidence: str = Field(description="firm (to 10%), fair (to 20%), loose (to 35%) or unknown.")
    reason: str
    uncorrected: float | None = Field(description="Load of the recording as it stands.")
    measure: str = Field(description="trimp, zones, three_zones or session_rpe.")

    @classmethod
    def of(cls, estimate: LoadEstimate) -> PartLoadAnswer:
        """Figures of an estimate."""
        return cls(
            low=estimate.low,
            median=estimate.median,
            high=estimate.high,
            sensor_half_width=estimate.sensor_half_width if estimate.median > 0 else None,
            basis=estimate.basis,
            confidence=estimate.confidence,
            reason=estimate.reason,
            uncorrected=estimate.raw,
            measure=estimate.measure,
        )


class EstimateAnswer(Schema):
    """A part and what its load most likely was."""

    part: int
    workout: int
    day: date
    start: datetime = Field(description="Of the part.")
    activity: str
    stale: bool = Field(description="The part has changed since, or was never estimated; work is under way.")
    load: PartLoadAnswer | None = Field(description="null before the first estimate.")

    @classmethod
    def of(cls, line: PartLine) -> EstimateAnswer:
        """Describe a line of the log."""
        return cls(
            part=line.part.pk,
            workout=line.part.workout_id,
            day=line.part.workout.day,
            start=line.part.start,
            activity=line.part.activity.slug,
            stale=line.outdated,
            load=PartLoadAnswer.of(line.estimate) if line.estimate else None,
        )


class TotalLoad(Load):
    """Load of several parts together."""

    physiology_half_width: float | None = Field(
        description="The same from the doubt of resting and maximum heart rate alone."
    )

    @classmethod
    def of(cls, total: Total | None) -> TotalLoad | None:
        """Figures of a sum; None for no parts."""
        if total is None:
            return None
        return cls(
            low=total.low,
            median=total.median,
            high=total.high,
            sensor_half_width=_finite(total.sensor_half_width),
            physiology_half_width=_finite(total.physiology_half_width),
        )


def _finite(value: float) -> float | None:
    return value if math.isfinite(value) else None
