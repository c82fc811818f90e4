"""Fill a log with the demo scenario, through the same functions that an upload and a worker use."""

from __future__ import annotations

import uuid
from argparse import ArgumentParser
from collections.abc import Sequence
from datetime import date, timedelta
from typing import Any

from django.contrib.auth import get_user_model
from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from fixtures.demo.files import DemoFile
from fixtures.demo.scenario import AthleteFacts, NotedPart, Scenario, SensorFacts, TypedWorkout, scenario
from fixtures.demo.workouts import WEEKS
from trainlog import originals
from trainlog.management.demo_notes import keep_days, keep_notes, refuse_others_notes
from trainlog.models import Activity, Athlete, Part, Physiology, Recording, Sensor, Workout
from trainlog.services.athletes import open_log, set_physiology
from trainlog.services.edit_workout import add_typed_workout, set_activity, set_session_rpe
from trainlog.services.import_files import read_recording, receive
from trainlog.services.sensors import note_firmware, save_sensor

PROGRESS_EVERY = 10
"""Files between two lines of progress."""


class Command(BaseCommand):
    """``manage.py load_demo --password PW``."""

    help = "Fill a log with the invented demo scenario. Broken off half way, it goes on where it stopped."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Say what the command takes."""
        parser.add_argument(
            "--password", required=True, help="password of the demo's user, if it is made now"
        )
        parser.add_argument("--user", default="demo", help="user whose log is filled (demo)")
        parser.add_argument("--last-day", type=date.fromisoformat, help="YYYY-MM-DD (yesterday)")
        parser.add_argument("--weeks", type=int, default=WEEKS, help=f"how many of the last weeks ({WEEKS})")

    def handle(self, *, password: str, user: str, last_day: date | None, weeks: int, **_: Any) -> None:
        """Invent the scenario and put it into the log."""
        last_day = last_day or timezone.now().date() - timedelta(days=1)
        try:
            demo = scenario(last_day, weeks)
        except ValueError as error:
            raise CommandError(str(error)) from error
        athlete = _log(user, password, demo)
        refuse_others_notes(athlete, demo)
        _keep_physiology(athlete, demo.athlete)
        for sensor in demo.sensors:
            _keep_sensor(athlete, sensor)
        keep_days(athlete, demo)
        self._import(athlete, demo.files)
        for workout in demo.typed:
            _add_typed(athlete, workout)
        for part in demo.parts:
            _note(athlete, part)
        keep_notes(athlete, demo)
        workouts = Workout.objects.of(athlete).count()
        self.stdout.write(f"The log of {user} holds {workouts} invented workouts up to {last_day}.")

    def _import(self, athlete: Athlete, files: Sequence[DemoFile]) -> None:
        for number, file in enumerate(files, start=1):
            if number % PROGRESS_EVERY == 0 or number == len(files):
                self.stdout.write(f"Reading {number} of {len(files)} files")
                self.stdout.flush()
            recording = receive(athlete, file.name, file.content)
            read_recording(recording.pk)
            recording.refresh_from_db()
            if recording.state != Recording.State.READ:
                raise CommandError(f"{file.name} was not read: {recording.problem or recording.state}")


def _log(user_name: str, password: str, demo: Scenario) -> Athlete:
    """Log of the user, made if need be.

    Raises
    ------
    CommandError
        If it holds anything that is not of this demo.
    """
    users = get_user_model()._default_manager
    user = users.filter(username=user_name).first()
    if user is None:
        user = get_user_model().objects.create_user(username=user_name, password=password)
    athlete = open_log(user, time_zone=demo.athlete.time_zone, seed=demo.athlete.seed)
    ours = {originals.digest(file.content) for file in demo.files}
    typed = {workout.start for workout in demo.typed}
    recordings = Recording.objects.of(athlete).values_list("sha256", flat=True)
    workouts = Workout.objects.of(athlete).filter(recordings=None).values_list("start", flat=True)
    if not (ours.issuperset(recordings) and typed.issuperset(workouts)):
        raise CommandError(
            f"The log of {user_name} holds workouts that are not of this demo, so nothing was loaded. "
            "Choose another user with --user, or the --last-day of a demo that was begun before."
        )
    return athlete


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
