"""Put the invented scenario into a log, by the functions that an upload and a form use.

Every step leaves alone what is there already, so that a load which was broken off goes on.
"""

from __future__ import annotations

import uuid
from collections.abc import Iterator
from contextlib import contextmanager

from django.db import transaction

from fixtures.demo.scenario import AthleteFacts, NotedPart, Scenario, SensorFacts, TypedWorkout
from trainlog import originals
from trainlog.models import Activity, Athlete, Part, Physiology, Recording, Sensor, Workout
from trainlog.services.athletes import set_physiology
from trainlog.services.demo_notes import NotThisDemo, keep_days, keep_notes, refuse_others_notes
from trainlog.services.edit_workout import add_typed_workout, set_activity, set_session_rpe
from trainlog.services.import_files import read_recording, receive
from trainlog.services.log_changed import hold_log
from trainlog.services.sensors import note_firmware, save_sensor


def load_scenario(athlete: Athlete, demo: Scenario) -> Iterator[int]:
    """Put a scenario into a log, a file a step.

    Parameters
    ----------
    athlete : Athlete
        Whose log is filled; it holds nothing but what an earlier load of the same scenario left.
    demo : Scenario
        What is put into it.

    Yields
    ------
    int
        How many files are read so far; all else is in the log when there is no further step.

    Raises
    ------
    NotThisDemo
        If the log holds anything that is not of this scenario.
    ValueError
        If a file of it cannot be read.
    """
    _refuse_others(athlete, demo)
    with _alone(athlete):
        _keep_physiology(athlete, demo.athlete)
        for sensor in demo.sensors:
            _keep_sensor(athlete, sensor)
        keep_days(athlete, demo)
    read = set(
        Recording.objects.of(athlete).filter(state=Recording.State.READ).values_list("sha256", flat=True)
    )
    for number, file in enumerate(demo.files, start=1):
        if originals.digest(file.content) not in read:
            recording = receive(athlete, file.name, file.content, wakes_a_worker=False)
            read_recording(recording.pk)
            recording.refresh_from_db()
            if recording.state != Recording.State.READ:
                raise ValueError(f"{file.name} was not read: {recording.problem or recording.state}")
            yield number
    with _alone(athlete):
        for workout in demo.typed:
            _add_typed(athlete, workout)
        for part in demo.parts:
            _note(athlete, part)
        keep_notes(athlete, demo)


@contextmanager
def _alone(athlete: Athlete) -> Iterator[None]:
    """Keep another load of the same log out until what is looked up here is also written."""
    with transaction.atomic():
        hold_log(athlete)
        yield


def _refuse_others(athlete: Athlete, demo: Scenario) -> None:
    ours = {originals.digest(file.content) for file in demo.files}
    typed = {workout.start for workout in demo.typed}
    recordings = Recording.objects.of(athlete).values_list("sha256", flat=True)
    workouts = Workout.objects.of(athlete).filter(recordings=None).values_list("start", flat=True)
    if not (ours.issuperset(recordings) and typed.issuperset(workouts)):
        raise NotThisDemo(f"The log of {athlete} holds workouts")
    refuse_others_notes(athlete, demo)


def _keep_physiology(athlete: Athlete, facts: AthleteFacts) -> None:
    if Physiology.objects.of(athlete).exists():
        return
    set_physiology(
        athlete,
        Physiology(
            from_day=facts.from_day,
            resting_rate=facts.resting_rate,
            maximum_rate=facts.maximum_rate,
            maximum_source=facts.maximum_source,
            maximum_error=facts.maximum_error,
            first_threshold=facts.first_threshold,
            second_threshold=facts.second_threshold,
            weighting=facts.weighting,
        ),
    )


def _keep_sensor(athlete: Athlete, facts: SensorFacts) -> None:
    sensor = Sensor.objects.of(athlete).filter(name=facts.name).first()
    if sensor is None:
        sensor = save_sensor(
            athlete,
            Sensor(
                # The same key in every installation, so that the demo's figures are the same everywhere.
                key=uuid.uuid5(uuid.NAMESPACE_OID, f"demo scenario/{facts.name}"),
                name=facts.name,
                site=facts.site,
                principle=facts.principle,
                source_key=facts.source_key,
            ),
        )
    noted = set(sensor.firmware.values_list("version", "from_day"))
    for version, from_day in facts.firmware:
        if (version, from_day) not in noted:
            note_firmware(sensor, version, from_day)


def _add_typed(athlete: Athlete, workout: TypedWorkout) -> None:
    if Workout.objects.of(athlete).filter(start=workout.start).exists():
        return
    activity = Activity.objects.of(athlete).get(slug=workout.activity)
    add_typed_workout(
        athlete, workout.start, workout.minutes, activity, workout.session_rpe, note=workout.note
    )


def _note(athlete: Athlete, noted: NotedPart) -> None:
    """Say of a part read from files what only the athlete knows: what it was, and how hard it felt."""
    part = Part.objects.of(athlete).get(start__lte=noted.moment, end__gt=noted.moment)
    if part.activity.slug != noted.activity:
        set_activity(part, Activity.objects.of(athlete).get(slug=noted.activity))
    if part.session_rpe != noted.session_rpe:
        set_session_rpe(part, noted.session_rpe)
