"""The demo is loaded as an upload would be, goes on after a break, and spares a log that is in use."""

from dataclasses import replace
from datetime import UTC, date, datetime
from io import StringIO

import pytest
from django.contrib.auth import get_user_model
from django.core.management import CommandError, call_command

from fixtures.demo.scenario import scenario
from trainlog.management.commands import load_demo
from trainlog.models import (
    Activity,
    Athlete,
    CheckIn,
    ClaimedRecovery,
    Firmware,
    LiftSet,
    Part,
    Physiology,
    PlannedSession,
    Recording,
    Sensor,
    Stay,
    Tag,
    UnknownDay,
    WeekPlan,
    Workout,
)
from trainlog.services import demo_scenario
from trainlog.services.athletes import open_log
from trainlog.services.check_in import save_check_in
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
        sorted(Workout.objects.values_list("start", "day", "time_zone")),
        sorted(Workout.objects.exclude(tags=None).values_list("start", "tags__name")),
        *(list(table.objects.order_by("pk").values()) for table in NOTED),
    )


NOTED = (CheckIn, Stay, UnknownDay, WeekPlan, PlannedSession, Tag, LiftSet, ClaimedRecovery)
"""Tables of what the athlete notes beside the sessions."""


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


def test_what_is_noted_beside_the_sessions_is_all_there():
    load()
    demo = scenario(LAST_DAY, WEEKS)

    counts = [table.objects.count() for table in NOTED]
    tags = len({tagged.tag for tagged in demo.tags})
    wanted = (demo.mornings, demo.stays, demo.unknown_days, demo.planned_loads, demo.planned_days)
    assert counts == [*map(len, wanted), tags, len(demo.sets), len(demo.claims)]
    assert Workout.objects.exclude(tags=None).count() > 0
    assert all(
        noted.kilograms is None or noted.part.activity.slug == "lifting" for noted in LiftSet.objects.all()
    )


def test_sessions_of_the_week_abroad_are_of_the_local_days_there():
    load()
    (stay,) = scenario(LAST_DAY, WEEKS).stays

    away = Workout.objects.filter(time_zone=stay.time_zone)
    assert away.count() == 6
    assert set(away.values_list("day__week", flat=True)) == {stay.first_day.isocalendar().week}
    assert Workout.objects.filter(day__range=(stay.first_day, stay.last_day)).count() == 6


def test_the_sick_week_of_the_whole_demo_has_a_day_that_is_not_known(monkeypatch):
    demo = scenario(LAST_DAY)
    monkeypatch.setattr(
        load_demo, "scenario", lambda *_: replace(demo, files=(), parts=(), tags=(), sets=(), claims=())
    )
    load()

    assert list(UnknownDay.objects.values_list("day", flat=True)) == [
        marked.day for marked in demo.unknown_days
    ]


def test_a_log_with_mornings_of_its_own_is_left_alone():
    user = get_user_model().objects.create_user("demo", password="three calm otters")
    athlete = open_log(user)
    save_check_in(athlete, date(2024, 5, 1), {"resting_rate": 50})

    with pytest.raises(CommandError, match="not of this demo"):
        load()

    assert CheckIn.objects.count() == 1
    assert not Sensor.objects.exists()


def test_what_was_changed_by_hand_since_stays():
    load()
    CheckIn.objects.update(note="Mine")

    load()

    assert set(CheckIn.objects.values_list("note", flat=True)) == {"Mine"}


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

    read_recording = demo_scenario.read_recording
    monkeypatch.setattr(demo_scenario, "read_recording", read_or_break)
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
