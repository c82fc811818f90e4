"""Workouts and parts as operations take and answer them."""

from __future__ import annotations

from datetime import date, datetime

from django.core.exceptions import ValidationError
from ninja import Field, Schema
from pydantic import AwareDatetime, ConfigDict

from trainlog.api.schemas import Rating, SensibleDay, Text, activity_named
from trainlog.models import Athlete, Basis, Confidence, Family, Part, Sensor, Workout
from trainlog.services.edit_workout import LONGEST_WORKOUT_MINUTES
from trainlog.services.find_workouts import LONGEST_SEARCH, Rated, Wanted, Worn
from trainlog.services.tags import LONGEST_TAG, MOST_TAGS

LONGEST_NOTE = 10_000


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


def _sensor_of(athlete: Athlete, key: int | None) -> Sensor | None:
    if key is None:
        return None
    known = {sensor.pk: sensor for sensor in Sensor.objects.of(athlete)}
    if key not in known:
        raise ValidationError(f"There is no sensor {key} in your log.")
    return known[key]


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
