"""What the API's operations take and answer; all times are ISO 8601 with a zone, all days local."""

from __future__ import annotations

import math
from datetime import date, datetime, timedelta
from typing import Annotated

from django.core.exceptions import ValidationError
from django.http import HttpRequest
from ninja import Field, Schema
from pydantic import AfterValidator, AwareDatetime, ConfigDict

from trainlog.load.session_rpe import HIGHEST_RATING
from trainlog.load.week import Total
from trainlog.models import (
    Activity,
    Athlete,
    Basis,
    Confidence,
    Family,
    LoadEstimate,
    Measure,
    Part,
    Recording,
    Sensor,
    Workout,
)
from trainlog.sensible_days import EARLIEST_DAY, LATEST_DAY
from trainlog.services.edit_workout import LONGEST_WORKOUT_MINUTES
from trainlog.services.find_workouts import LONGEST_SEARCH, Rated, Wanted, Worn
from trainlog.services.lines import PartLine
from trainlog.services.tags import LONGEST_TAG, MOST_TAGS

LONGEST_RANGE_DAYS = 400
"""Days of estimates or pairs that one answer holds at most."""

DEFAULT_RANGE_DAYS = 28
LONGEST_NOTE = 10_000

Rating = Annotated[float, Field(ge=0, le=HIGHEST_RATING, description="CR10: 0 is rest, 10 maximal.")]
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


class Problem(Schema):
    """Why a request was not carried out."""

    title: str
    detail: str


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


class WorkoutFilter(Schema):
    """What workouts are looked for; whatever is left out does not matter."""

    model_config = ConfigDict(populate_by_name=True)

    first: SensibleDay | None = Field(None, alias="from", description="First local day, included.")
    last: SensibleDay | None = Field(None, alias="to", description="Last local day, included.")
    text: Text = Field(
        "",
        max_length=LONGEST_SEARCH,
        description="Words, each of them in the note, a tag, or a name of an activity, sensor or file.",
    )
    activity: Text = Field("", description="Slug of one of the athlete's activities.")
    family: Family | None = None
    sensor: int | None = Field(None, description="Id of one of the athlete's sensors.")
    worn: Worn | None = Field(None, description="strap, wrist (no strap) or nothing (no file).")
    basis: Basis | None = Field(None, description="Of the load of one of the parts.")
    confidence: Confidence | None = Field(None, description="Of the load of the same part.")
    rated: Rated | None = Field(None, description="Whether every part has a session-RPE: yes or no.")
    tag: Text = Field("", max_length=LONGEST_TAG)

    def of(self, athlete: Athlete) -> Wanted:
        """What is wanted, in rows of the athlete's.

        Raises
        ------
        ValidationError
            If the log has no such activity or sensor, or the days are in the wrong order.
        """
        if self.first and self.last and self.first > self.last:
            raise ValidationError("“from” must not be after “to”.")
        said = self.dict(exclude_none=True) | {
            "activity": activity_named(athlete, self.activity) if self.activity else None,
            "sensor": _sensor_of(athlete, self.sensor),
        }
        return Wanted(**said)


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


def _sensor_of(athlete: Athlete, key: int | None) -> Sensor | None:
    if key is None:
        return None
    known = {sensor.pk: sensor for sensor in Sensor.objects.of(athlete)}
    if key not in known:
        raise ValidationError(f"There is no sensor {key} in your log.")
    return known[key]


class FileAnswer(Schema):
    """What became of one file."""

    id: int | None = Field(description="None if the file was refused at the door and nothing was kept.")
    name: str
    state: str = Field(description="received, read or refused.")
    problem: str = Field(description="Why it was refused, and what to do; else empty.")

    @classmethod
    def of(cls, recording: Recording) -> FileAnswer:
        """State of a file that was kept."""
        return cls(
            id=recording.pk, name=recording.file_name, state=recording.state, problem=recording.problem
        )


class FileDetail(FileAnswer):
    """A file and what was found in it."""

    bytes: int
    format: str
    clock: str = Field(description="How the source's clock was set, as far as the file tells.")
    notes: list[str] = Field(description="What the reader had to repair, guess or leave out.")
    start: datetime | None
    end: datetime | None
    sensor: str | None = Field(description="Name of the sensor; None as long as it is not known.")
    workout: int | None

    @classmethod
    def of(cls, recording: Recording) -> FileDetail:
        """All that is known of a file."""
        return cls(
            **FileAnswer.of(recording).dict(),
            bytes=recording.byte_count,
            format=recording.format,
            clock=recording.clock,
            notes=recording.notes,
            start=recording.start,
            end=recording.end,
            sensor=recording.sensor.name if recording.sensor else None,
            workout=recording.workout_id,
        )


class PartAnswer(Schema):
    """A stretch of a workout with its own activity."""

    id: int
    start: datetime
    end: datetime
    activity: str = Field(description="Slug of the activity.")
    session_rpe: float | None

    @staticmethod
    def resolve_activity(part: Part) -> str:
        """Slug, which the operations that take an activity understand."""
        return part.activity.slug


class WorkoutAnswer(Schema):
    """One training session."""

    id: int
    day: date = Field(description="Local day on which it began.")
    time_zone: str = Field(description="Of a stay during which it began; empty at home.")
    start: datetime
    end: datetime
    note: str
    tags: list[str]
    parts: list[PartAnswer]
    files: list[int] = Field(description="Ids of the files recorded in it.")

    @staticmethod
    def resolve_tags(workout: Workout) -> list[str]:
        """Names of the tags."""
        return [tag.name for tag in workout.tags.all()]

    @staticmethod
    def resolve_files(workout: Workout) -> list[int]:
        """Ids of the recordings."""
        return [recording.pk for recording in workout.recordings.all()]


class PartChange(Schema):
    """What to change of a part; what is left out stays."""

    model_config = ConfigDict(extra="forbid")

    activity: Text | None = Field(None, description="Slug of one of the athlete's activities.")
    session_rpe: Rating | None = Field(None, description="0 to 10; null takes the rating back.")


class WorkoutChange(Schema):
    """What to change of a workout; what is left out stays."""

    model_config = ConfigDict(extra="forbid")

    note: Text | None = Field(None, max_length=LONGEST_NOTE)
    tags: list[Text] | None = Field(
        None, description=f"All of them: at most {MOST_TAGS}, of at most {LONGEST_TAG} characters each."
    )


class TypedWorkout(Schema):
    """A workout that left no file."""

    model_config = ConfigDict(extra="forbid")

    start: AwareDatetime
    minutes: float = Field(ge=1, le=LONGEST_WORKOUT_MINUTES)
    activity: Text = Field(description="Slug of one of the athlete's activities.")
    session_rpe: Rating | None = None
    note: Text = Field("", max_length=LONGEST_NOTE)
    tags: list[Text] = []


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
