"""Files as operations answer them."""

from __future__ import annotations

from datetime import datetime

from ninja import Field, Schema

from trainlog.models import Recording


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


class ReceivedFile(FileAnswer):
    """What became of one file of an upload."""

    duplicate: bool = Field(
        False, description="The same bytes were in the log before: this file changed nothing."
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

    @staticmethod
    def resolve_name(recording: Recording) -> str:
        """Name as uploaded."""
        return recording.file_name

    @staticmethod
    def resolve_bytes(recording: Recording) -> int:
        """Size."""
        return recording.byte_count

    @staticmethod
    def resolve_sensor(recording: Recording) -> str | None:
        """Name of the sensor."""
        return recording.sensor.name if recording.sensor else None

    @staticmethod
    def resolve_workout(recording: Recording) -> int | None:
        """Id of the workout."""
        return recording.workout_id
