# mypy: disable-error-code="union-attr"

from datetime import UTC, datetime, timedelta

import pytest
from django.core.exceptions import ValidationError
from django.utils import timezone

from tests.builders import MORNING, activity_of, athlete, csv_file, imported, part, sensor, strap
from trainlog.models import LiftSet, Part, Recording, Sensor, Workout
from trainlog.readers.reading import Clock
from trainlog.services import edit_workout as edit
from trainlog.signals import log_has_changed

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("data_folder")]


@pytest.fixture
def heard():
    """Athletes of whom it was said, after commit, that their log has changed."""
    ids: list[int] = []

    def hear(athlete_id, **kwargs):
        ids.append(athlete_id)

    log_has_changed.connect(hear)
    yield ids
    log_has_changed.disconnect(hear)


def revision(row):
    return Part.objects.get(pk=row.pk).input_revision


def at(minutes):
    return MORNING + timedelta(minutes=minutes)


def test_a_rating_is_kept_and_makes_the_estimate_out_of_date():
    rated = part(athlete())
    edit.set_session_rpe(rated, 6.5)
    stored = Part.objects.get(pk=rated.pk)
    assert (stored.session_rpe, stored.input_revision) == (6.5, rated.input_revision + 1)


def test_a_rating_can_be_taken_back():
    rated = part(athlete(), session_rpe=4)
    edit.set_session_rpe(rated, None)
    assert Part.objects.get(pk=rated.pk).session_rpe is None


@pytest.mark.parametrize("rating", [-1, 10.5, float("nan")])
def test_a_rating_off_the_scale_is_refused_and_changes_nothing(rating):
    rated = part(athlete(), session_rpe=4)
    with pytest.raises(ValidationError):
        edit.set_session_rpe(rated, rating)
    stored = Part.objects.get(pk=rated.pk)
    assert (stored.session_rpe, stored.input_revision) == (4, 1)


def test_an_activity_set_by_hand_stays_and_makes_the_estimate_out_of_date():
    owner = athlete()
    changed = part(owner, activity="run")
    edit.set_activity(changed, activity_of(owner, "lifting"))
    stored = Part.objects.get(pk=changed.pk)
    assert (stored.activity.slug, stored.by_hand, stored.input_revision) == ("lifting", True, 2)


def test_only_the_changed_part_is_out_of_date():
    owner = athlete()
    changed, other = part(owner, at(0)), part(owner, at(120))
    edit.set_session_rpe(changed, 5)
    assert (revision(changed), revision(other)) == (2, 1)


def test_a_note_leaves_every_estimate_as_it_is():
    noted = part(athlete())
    edit.set_note(noted.workout, "windy")
    assert Workout.objects.get().note == "windy"
    assert revision(noted) == 1


def test_a_change_is_said_once_it_is_committed(heard, django_capture_on_commit_callbacks):
    owner = athlete()
    changed = part(owner)
    with django_capture_on_commit_callbacks(execute=True):
        edit.set_session_rpe(changed, 5)
        assert heard == []
    assert heard == [owner.pk]


def test_a_part_cut_in_two_covers_what_it_covered():
    whole = part(athlete(), at(0), 60)
    later = edit.split_part(whole, at(20))
    assert [(row.start, row.end) for row in whole.workout.parts.all()] == [(at(0), at(20)), (at(20), at(60))]
    assert later.activity == whole.activity
    assert revision(whole) > 1


@pytest.mark.parametrize("minutes", [-5, 0, 0.5, 59.5, 60, 90])
def test_a_cut_outside_the_part_or_at_its_edge_is_refused(minutes):
    whole = part(athlete(), at(0), 60)
    with pytest.raises(ValidationError, match="a minute"):
        edit.split_part(whole, at(minutes))
    assert whole.workout.parts.count() == 1


def cut_in_two(minutes=20):
    """Hour of work cut in two: both parts."""
    whole = part(athlete(), at(0), 60)
    return whole, edit.split_part(whole, at(minutes))


def test_moving_a_boundary_moves_the_end_of_one_part_and_the_start_of_the_next():
    earlier, later = cut_in_two()
    before = revision(earlier), revision(later)
    edit.move_boundary(earlier, at(35))
    stored = earlier.workout.parts.all()
    assert [(row.start, row.end) for row in stored] == [(at(0), at(35)), (at(35), at(60))]
    assert (revision(earlier), revision(later)) == (before[0] + 1, before[1] + 1)


def test_a_boundary_that_is_moved_by_hand_is_left_alone_by_files():
    earlier, later = cut_in_two()
    Part.objects.update(by_hand=False)
    edit.move_boundary(Part.objects.get(pk=earlier.pk), at(35))
    assert all(Part.objects.filter(pk__in=[earlier.pk, later.pk]).values_list("by_hand", flat=True))


def test_a_boundary_moved_back_is_where_it_was():
    earlier, _ = cut_in_two()
    edit.move_boundary(earlier, at(35))
    edit.move_boundary(earlier, at(20))
    assert [row.seconds for row in earlier.workout.parts.all()] == [20 * 60, 40 * 60]


def test_a_boundary_that_stays_makes_nothing_out_of_date():
    earlier, later = cut_in_two()
    before = revision(earlier), revision(later)
    edit.move_boundary(earlier, at(20))
    assert (revision(earlier), revision(later)) == before


def test_sets_stay_with_their_part_when_its_boundary_moves():
    earlier, later = cut_in_two()
    LiftSet.objects.create(owner=later.owner, part=later, place=0, exercise="squat", repetitions=5)
    edit.move_boundary(earlier, at(35))
    assert later.lift_sets.count() == 1


@pytest.mark.parametrize("minutes", [-5, 0, 0.5, 59.5, 60, 90])
def test_a_boundary_leaves_at_least_a_minute_of_either_part(minutes):
    earlier, _ = cut_in_two()
    with pytest.raises(ValidationError, match="at least a minute"):
        edit.move_boundary(earlier, at(minutes))
    assert [row.seconds for row in earlier.workout.parts.all()] == [20 * 60, 40 * 60]


def test_the_last_part_has_no_boundary_after_it():
    with pytest.raises(ValidationError, match="no part after"):
        edit.move_boundary(part(athlete()), at(20))


def test_joining_undoes_a_cut():
    whole = part(athlete(), at(0), 60)
    edit.split_part(whole, at(20))
    edit.join_with_next(whole)
    assert [(row.start, row.end) for row in whole.workout.parts.all()] == [(at(0), at(60))]


def test_the_last_part_has_none_to_join():
    with pytest.raises(ValidationError, match="no part after"):
        edit.join_with_next(part(athlete()))


def test_a_typed_workout_has_one_part_with_its_rating():
    owner = athlete(time_zone="Pacific/Auckland")
    start = datetime(2026, 3, 2, 20, 0, 30, 999, tzinfo=UTC)
    workout = edit.add_typed_workout(owner, start, 45, activity_of(owner, "lifting"), 7, "gym")
    only = workout.parts.get()
    assert (workout.start.microsecond, workout.minutes, workout.note) == (0, 45, "gym")
    assert workout.day.isoformat() == "2026-03-03"
    assert (only.activity.slug, only.session_rpe, only.seconds) == ("lifting", 7, 45 * 60)


@pytest.mark.parametrize("minutes", [0, -10, 24 * 60 + 1, float("nan"), float("inf")])
def test_a_typed_workout_of_impossible_length_is_refused(minutes):
    owner = athlete()
    with pytest.raises(ValidationError, match="between one minute and 24 hours"):
        edit.add_typed_workout(owner, MORNING, minutes, activity_of(owner, "run"), None)
    assert not Workout.objects.exists()


@pytest.mark.parametrize(
    "start",
    [
        datetime.max.replace(tzinfo=UTC),
        datetime.min.replace(tzinfo=UTC),
        datetime(1999, 12, 31, tzinfo=UTC),
        timezone.now() + timedelta(days=2),
    ],
)
def test_a_typed_workout_in_the_future_or_before_there_were_files_is_refused(start):
    owner = athlete(time_zone="Pacific/Auckland")
    with pytest.raises(ValidationError, match="not in the future"):
        edit.add_typed_workout(owner, start, 60, activity_of(owner, "run"), None)
    assert not Workout.objects.exists()


def test_a_typed_workout_with_a_rating_off_the_scale_is_refused_whole():
    owner = athlete()
    with pytest.raises(ValidationError):
        edit.add_typed_workout(owner, MORNING, 30, activity_of(owner, "run"), 11)
    assert not Workout.objects.exists()


def test_a_typed_workout_over_another_is_refused_and_says_which():
    owner = athlete(time_zone="Europe/Lisbon")
    part(owner, at(0), 60)
    with pytest.raises(ValidationError, match="already from 06:30"):
        edit.add_typed_workout(owner, at(30), 60, activity_of(owner, "run"), None)


def test_a_typed_workout_may_begin_when_another_ends():
    owner = athlete()
    part(owner, at(0), 60)
    edit.add_typed_workout(owner, at(60), 30, activity_of(owner, "run"), None)
    assert Workout.objects.of(owner).count() == 2


def test_workouts_of_others_do_not_stand_in_the_way():
    part(athlete("ben"), at(0), 60)
    owner = athlete("ana")
    edit.add_typed_workout(owner, at(0), 60, activity_of(owner, "run"), None)
    assert Workout.objects.of(owner).count() == 1


def test_naming_the_sensor_of_one_file_names_it_for_all_from_that_source():
    owner = athlete()
    first = imported(owner, csv_file(at(0), device="wrist 1"))
    second = imported(owner, csv_file(at(100), device="wrist 1"))
    other = imported(owner, csv_file(at(200), device="wrist 2"))
    wrist = sensor(owner)
    edit.set_sensor(first, wrist)
    named = Recording.objects.filter(sensor=wrist)
    assert set(named) == {first, second}
    assert other not in named
    assert imported(owner, csv_file(at(300), device="wrist 1")).sensor == wrist


def test_naming_a_sensor_makes_every_part_it_touches_out_of_date():
    owner = athlete()
    rows = [imported(owner, csv_file(at(100 * i), device="wrist 1")) for i in range(2)]
    parts = [row.workout.parts.get() for row in rows]
    edit.set_sensor(rows[0], sensor(owner))
    assert [revision(row) - row.input_revision for row in parts] == [1, 1]


def test_a_sensor_named_for_one_file_alone_is_not_remembered():
    owner = athlete()
    first = imported(owner, csv_file(at(0), device="wrist 1"))
    edit.set_sensor(first, sensor(owner), remember=False)
    assert imported(owner, csv_file(at(100), device="wrist 1")).sensor is None


def test_a_source_belongs_to_the_sensor_that_was_named_last():
    owner = athlete()
    recording = imported(owner, csv_file(device="one"))
    wrist, chest = sensor(owner), strap(owner)
    edit.set_sensor(recording, wrist)
    edit.set_sensor(recording, chest)
    assert [row.name for row in Sensor.objects.of(owner).filter(source_key=recording.source_key)] == ["strap"]


def test_a_recording_that_was_named_already_keeps_its_sensor():
    owner = athlete()
    first, second = (imported(owner, csv_file(at(100 * i), device="one")) for i in range(2))
    wrist, chest = sensor(owner), strap(owner)
    edit.set_sensor(first, wrist)
    edit.set_sensor(second, chest)
    first.refresh_from_db()
    assert first.sensor == wrist


def test_stating_a_clock_has_the_part_estimated_anew():
    owner = athlete()
    recording = imported(owner, csv_file())
    part = recording.workout.parts.get()
    edit.set_clock(recording, Clock.SYNCHRONISED)
    recording.refresh_from_db()
    assert recording.clock == "synchronised"
    assert part.input_revision < Part.objects.get(pk=part.pk).input_revision
