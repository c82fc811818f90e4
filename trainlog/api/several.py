"""Changing several workouts at once, for programs; the log's API mounts this router."""

from __future__ import annotations

from django.http import Http404
from ninja import Field, Router, Schema
from pydantic import ConfigDict

from trainlog.api.deletions import DeletionAnswer
from trainlog.api.schemas import Id, Problem, SignedInRequest, Text, activity_named
from trainlog.models import Athlete, Deletion, Sensor, Workout
from trainlog.services.bulk_edit import MOST_AT_ONCE, Change, Summary, change_workouts
from trainlog.services.delete_workouts import delete_workouts
from trainlog.services.tags import MOST_TAGS

PROBLEMS = frozenset({401, 403, 404, 422})

router = Router()


class Chosen(Schema):
    """Workouts by their ids; all of them must be in the log."""

    model_config = ConfigDict(extra="forbid")

    workouts: list[Id] = Field(min_length=1, max_length=MOST_AT_ONCE)

    def of(self, athlete: Athlete) -> list[Workout]:
        """Rows of the athlete's.

        Raises
        ------
        Http404
            If one of them is not there: then nothing is changed.
        """
        found = list(Workout.objects.of(athlete).filter(pk__in=self.workouts))
        if len(found) < len(set(self.workouts)):
            raise Http404("not all of these workouts are in the log")
        return found


class SensorMove(Schema):
    """Recordings of one sensor that another made; null is a sensor that is not known."""

    model_config = ConfigDict(extra="forbid")

    sensor_from: Id | None
    sensor_to: Id | None


class SeveralChange(Chosen):
    """What to change of all of them; what is left out stays."""

    activity: Text = Field("", description="Slug of one of the athlete's activities, for all parts.")
    sensor: SensorMove | None = None
    add_tags: list[Text] = Field(default_factory=list, max_length=MOST_TAGS)
    remove_tags: list[Text] = Field(default_factory=list, max_length=MOST_TAGS)


class SummaryAnswer(Schema):
    """What came of it, a sentence each."""

    done: list[str]
    left: list[str] = Field(description="What was not changed, and why.")


@router.post("/several-workouts/change", response={200: SummaryAnswer, PROBLEMS: Problem})
def change_several(request: SignedInRequest, change: SeveralChange) -> Summary:
    """Set activity, sensor or tags of several workouts, all in one go; their loads are estimated anew."""
    athlete = request.auth
    workouts = change.of(athlete)
    wanted = Change(
        activity=activity_named(athlete, change.activity) if change.activity else None,
        moves_sensor=change.sensor is not None,
        sensor_from=_sensor(athlete, change.sensor.sensor_from if change.sensor else None),
        sensor_to=_sensor(athlete, change.sensor.sensor_to if change.sensor else None),
        add_tags=tuple(change.add_tags),
        remove_tags=tuple(change.remove_tags),
    )
    return change_workouts(athlete, workouts, wanted)


@router.post("/several-workouts/delete", response={200: DeletionAnswer, PROBLEMS: Problem})
def delete_several(request: SignedInRequest, chosen: Chosen) -> Deletion:
    """Delete several workouts with their recordings, as one deletion that can be put back for thirty days."""
    return delete_workouts(request.auth, chosen.of(request.auth))


def _sensor(athlete: Athlete, key: int | None) -> Sensor | None:
    if key is None:
        return None
    found = Sensor.objects.of(athlete).filter(pk=key).first()
    if found is None:
        raise Http404("no such sensor in the log")
    return found
