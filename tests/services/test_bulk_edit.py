"""Several workouts changed at once: in one go, and nothing silently left out."""

# mypy: disable-error-code="union-attr"

from datetime import timedelta

import pytest
from django.core.exceptions import ValidationError

from tests.builders import MORNING, activity_of, csv_file, imported, part, sensor, strap
from trainlog.models import Part, Recording, Tag, Workout
from trainlog.services.bulk_edit import Change, change_workouts
from trainlog.services.edit_workout import split_part
from trainlog.services.tags import set_tags

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("data_folder")]


def on(day):
    return MORNING + timedelta(days=day)


def of(owner):
    return list(Workout.objects.of(owner))


def names(workout):
    return sorted(tag.name for tag in workout.tags.all())


def test_all_get_the_activity_and_are_estimated_anew_in_one_go(ana):
    parts = [part(ana, on(day)) for day in range(3)]
    ana.refresh_from_db()
    revision = ana.log_revision
    summary = change_workouts(ana, of(ana), Change(activity=activity_of(ana, "ride")))
    assert summary.done == ["3 workouts set to ride."]
    assert summary.left == []
    changed = Part.objects.of(ana)
    assert {(row.activity.slug, row.by_hand, row.input_revision) for row in changed} == {("ride", True, 2)}
    ana.refresh_from_db()
    assert ana.log_revision == revision + 1
    assert len(parts) == 3


def test_one_that_has_the_activity_already_is_not_estimated_anew(ana):
    had, other = part(ana, on(0), activity="ride"), part(ana, on(1))
    summary = change_workouts(ana, of(ana), Change(activity=activity_of(ana, "ride")))
    assert summary.done == ["1 workout set to ride."]
    assert summary.left == ["1 workout had that activity already."]
    assert Part.objects.get(pk=had.pk).input_revision == had.input_revision
    assert Part.objects.get(pk=other.pk).input_revision == other.input_revision + 1


def test_one_whose_parts_differ_in_activity_is_left_and_named(ana):
    mixed = part(ana, on(0))
    later = split_part(mixed, on(0) + timedelta(minutes=30))
    later.activity = activity_of(ana, "lifting")
    later.save()
    summary = change_workouts(ana, of(ana), Change(activity=activity_of(ana, "ride")))
    assert summary.done == []
    assert "1 workout (2 March 2026) left as it was: the parts differ in activity." in summary.left[0]
    assert {row.activity.slug for row in Part.objects.of(ana)} == {"run", "lifting"}


def test_recordings_of_one_sensor_become_those_of_another(ana):
    wrong, right = sensor(ana, "left"), sensor(ana, "right")
    worn = imported(ana, csv_file(on(0)))
    worn.sensor = wrong
    worn.save()
    part(ana, on(1))
    change = Change(moves_sensor=True, sensor_from=wrong, sensor_to=right)
    summary = change_workouts(ana, of(ana), change)
    assert Recording.objects.get().sensor == right
    assert summary.done == ["Sensor of 1 recording changed from left to right."]
    assert summary.left == ["1 workout without a recording whose sensor is left."]
    assert worn.workout.parts.get().input_revision == 3


def test_a_sensor_that_is_not_known_can_be_told_for_all(ana):
    right = sensor(ana, "right")
    for day in range(2):
        imported(ana, csv_file(on(day)))
    summary = change_workouts(ana, of(ana), Change(moves_sensor=True, sensor_to=right))
    assert summary.done == ["Sensor of 2 recordings changed from not known to right."]


def test_a_session_that_the_right_sensor_recorded_already_is_left(ana):
    wrong, right = sensor(ana), strap(ana)
    for device, worn in (("left", wrong), ("chest", right)):
        row = imported(ana, csv_file(on(0), device=device))
        row.sensor = worn
        row.save()
    change = Change(moves_sensor=True, sensor_from=wrong, sensor_to=right)
    summary = change_workouts(ana, of(ana), change)
    assert summary.done == []
    assert "a recording of strap is there already" in summary.left[0]


def test_tags_are_added_and_removed(ana):
    one, two = part(ana, on(0)).workout, part(ana, on(1)).workout
    set_tags(one, ["Gym"])
    summary = change_workouts(ana, of(ana), Change(add_tags=["gym"]))
    assert summary.done == ["1 workout tagged “gym”."]
    assert summary.left == ["1 workout had the tag already."]
    assert names(one) == names(two) == ["Gym"]
    summary = change_workouts(ana, [one, two], Change(remove_tags=["GYM"]))
    assert summary.done == ["2 workouts no longer tagged “GYM”."]
    assert not Tag.objects.exists()


def test_a_workout_that_is_full_of_tags_is_left(ana):
    full = part(ana).workout
    set_tags(full, [f"tag {number}" for number in range(20)])
    summary = change_workouts(ana, [full], Change(add_tags=["one more"]))
    assert summary.left == ["1 workout would have more tags than a workout can hold."]
    assert not Tag.objects.filter(name="one more").exists()


@pytest.mark.parametrize(
    ("change", "why"),
    [
        (Change(), "Say what to change"),
        (Change(moves_sensor=True), "two different sensors"),
        (Change(add_tags=["x" * 41]), "at most 40 characters"),
    ],
)
def test_a_change_that_cannot_be_leaves_everything(ana, change, why):
    workout = part(ana).workout
    with pytest.raises(ValidationError, match=why):
        change_workouts(ana, [workout], change)
    assert names(workout) == []


def test_a_tag_that_cannot_be_takes_the_new_activity_back_too(ana):
    workout = part(ana).workout
    with pytest.raises(ValidationError):
        change_workouts(ana, [workout], Change(activity=activity_of(ana, "ride"), add_tags=["x" * 41]))
    assert workout.parts.get().activity.slug == "run"


def test_none_chosen_is_said_so(ana):
    with pytest.raises(ValidationError, match="Choose at least one workout"):
        change_workouts(ana, [], Change(activity=activity_of(ana, "ride")))
