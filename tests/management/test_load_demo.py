"""The demo is loaded as an upload would be, goes on after a break, and spares a log that is in use."""

from datetime import UTC, date, datetime
from io import StringIO

import pytest
from django.contrib.auth import get_user_model
from django.core.management import CommandError, call_command

from fixtures.demo.scenario import scenario
from trainlog.management.commands import load_demo
from trainlog.models import Activity, Athlete, Firmware, Part, Physiology, Recording, Sensor, Workout
from trainlog.services.athletes import open_log
from trainlog.services.edit_workout import add_typed_workout

pytestmark = pytest.mark.django_db

LAST_DAY = date(2025, 7, 13)
WEEKS = 4


@pytest.fixture(autouse=True)
def _own_folder(settings, tmp_path):
    settings.DATA_FOLDER = tmp_path


def load(**options):
    said = StringIO()
    call_command(
        "load_demo",
        **{"password": "three calm otters", "last_day": LAST_DAY, "weeks": WEEKS} | options,
        stdout=said,
    )
    return said.getvalue()


def contents():
    """All that the demo put into the log, without keys and times of writing."""
    return (
        sorted(Recording.objects.values_list("sha256", "state", "sensor__name", "workout__start")),
        sorted(Part.objects.values_list("start", "end", "activity__slug")),
        dict(Part.objects.values_list("start", "session_rpe")),
        sorted(Firmware.objects.values_list("sensor__name", "version", "from_day")),
    )


def test_the_demo_holds_every_file_in_a_workout_with_its_sensor():
    said = load()
    demo = scenario(LAST_DAY, WEEKS)

    assert Recording.objects.count() == len(demo.files)
    assert set(Recording.objects.values_list("state", flat=True)) == {"read"}
    assert not Recording.objects.filter(sensor=None).exists()
    assert not Recording.objects.filter(workout=None).exists()
    assert Sensor.objects.count() == 4
    assert f"Reading {len(demo.files)} of {len(demo.files)} files" in said


def test_its_parts_have_the_activities_and_ratings_that_the_athlete_noted():
    load()
    demo = scenario(LAST_DAY, WEEKS)

    assert Part.objects.count() == len(demo.parts) + len(demo.typed)
    assert not Part.objects.filter(activity__slug="other").exists()
    assert Part.objects.filter(activity__slug="interval-run").exists()
    rated = [part for part in (*demo.parts, *demo.typed) if part.session_rpe is not None]
    assert Part.objects.exclude(session_rpe=None).count() == len(rated)
    assert Workout.objects.filter(by_hand=True).count() == len(demo.typed) > 0


def test_lifting_and_mixed_intervals_in_one_session_are_two_parts():
    load()

    two = [workout for workout in Workout.objects.all() if workout.parts.count() == 2]

    assert two
    for workout in two:
        slugs = workout.parts.order_by("start").values_list("activity__slug", flat=True)
        assert list(slugs) == ["lifting", "mixed-intervals"]


def test_its_athlete_can_sign_in_and_has_a_fixed_seed():
    load()

    athlete = Athlete.objects.get()
    assert athlete.user.check_password("three calm otters")
    assert athlete.seed == scenario(LAST_DAY, 1).athlete.seed
    assert athlete.time_zone == "Europe/Lisbon"
    assert Physiology.objects.get().maximum_source == "measured"


def test_loading_twice_changes_nothing():
    load()
    before, revisions = contents(), dict(Part.objects.values_list("pk", "input_revision"))

    load()

    assert contents() == before
    assert dict(Part.objects.values_list("pk", "input_revision")) == revisions


def test_loading_goes_on_after_a_break(monkeypatch):
    reads = []

    def read_or_break(recording_id):
        reads.append(recording_id)
        if len(reads) == 4:
            raise KeyboardInterrupt
        read_recording(recording_id)

    read_recording = load_demo.read_recording
    monkeypatch.setattr(load_demo, "read_recording", read_or_break)
    with pytest.raises(KeyboardInterrupt):
        load()
    assert 0 < Workout.objects.count() < 10
    monkeypatch.undo()

    load()
    after_the_break = contents()
    load(user="another")

    recordings = Recording.objects.filter(owner__user__username="demo", state="read")
    assert recordings.count() == len(scenario(LAST_DAY, WEEKS).files)
    another = Part.objects.filter(owner__user__username="another")
    assert sorted(another.values_list("start", "end", "activity__slug")) == after_the_break[1]
    assert dict(another.values_list("start", "session_rpe")) == after_the_break[2]


def test_a_log_in_use_is_left_alone():
    user = get_user_model().objects.create_user("demo", password="three calm otters")
    athlete = open_log(user)
    activity = Activity.objects.of(athlete).get(slug="run")
    add_typed_workout(athlete, datetime(2025, 5, 1, 7, tzinfo=UTC), 30, activity, 4)

    with pytest.raises(CommandError, match="not of this demo"):
        load()

    assert Workout.objects.count() == 1
    assert not Sensor.objects.exists()


def test_a_demo_of_another_day_is_not_mixed_in():
    load()

    with pytest.raises(CommandError, match="last-day"):
        load(last_day=date(2025, 7, 20))


def test_more_weeks_than_planned_are_refused_in_words():
    with pytest.raises(CommandError, match="20 weeks"):
        load(weeks=21)
