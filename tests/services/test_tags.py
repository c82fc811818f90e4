import pytest
from django.core.exceptions import ValidationError

from tests.builders import MORNING, athlete, part
from trainlog.models import Tag
from trainlog.services.delete_workouts import delete_workout
from trainlog.services.edit_workout import set_note
from trainlog.services.tags import MOST_TAGS, describe_workout, set_tags, tags_by_workout, tags_in, used_tags

pytestmark = pytest.mark.django_db


@pytest.fixture
def workout(ana):
    return part(ana).workout


def names(workout):
    return [tag.name for tag in workout.tags.all()]


def test_tags_are_tidied_and_empty_ones_left_out(workout):
    set_tags(workout, ["  hill   repeats ", "", " ", "gym"])
    assert names(workout) == ["gym", "hill repeats"]


def test_a_name_in_another_case_is_the_tag_that_is_there(ana, workout):
    set_tags(workout, ["Übung", "Gym"])
    other = part(ana, MORNING.replace(day=3)).workout
    set_tags(other, ["übung", "GYM", "gym"])
    assert set(names(other)) == {"Übung", "Gym"}
    assert Tag.objects.of(ana).count() == 2


def test_a_tag_that_no_workout_has_any_longer_is_removed(ana, workout):
    set_tags(workout, ["gym", "hot"])
    set_tags(workout, ["hot"])
    assert [tag.name for tag in Tag.objects.of(ana)] == ["hot"]


def test_a_tag_that_another_workout_still_has_stays(ana, workout):
    other = part(ana, MORNING.replace(day=3)).workout
    set_tags(other, ["gym"])
    set_tags(workout, ["gym"])
    set_tags(workout, [])
    assert names(other) == ["gym"]


def test_a_tag_whose_workouts_are_gone_is_offered_no_longer(ana, workout):
    set_tags(workout, ["gym"])
    delete_workout(workout)
    assert used_tags(ana) == []


def test_a_tag_of_another_athlete_is_never_attached(ana, workout):
    theirs = part(athlete("bo")).workout
    set_tags(theirs, ["gym", "secret"])
    set_tags(workout, ["gym"])
    assert workout.tags.get().owner == ana
    assert used_tags(ana) == ["gym"]
    assert not Tag.workouts.through.objects.exclude(tag__owner=ana).filter(workout__owner=ana).exists()
    set_tags(workout, [])
    assert set(names(theirs)) == {"gym", "secret"}


@pytest.mark.parametrize(
    ("wanted", "words"),
    [
        (["x" * 41], "at most 40 characters"),
        ([f"tag {i}" for i in range(MOST_TAGS + 1)], "at most 20 tags, not 22"),
        (["one, two"], "holds no comma"),
        (["nul\x00"], "Null characters"),
    ],
)
def test_tags_that_cannot_be_change_nothing(ana, workout, wanted, words):
    set_tags(workout, ["gym"])
    with pytest.raises(ValidationError, match=words):
        describe_workout(workout, note="new", tags=["fine", *wanted])
    workout.refresh_from_db()
    assert (workout.note, names(workout)) == ("", ["gym"])
    assert Tag.objects.of(ana).count() == 1


def test_forty_characters_and_twenty_tags_are_taken(workout):
    set_tags(workout, [f"{i:02d}" + "x" * 38 for i in range(MOST_TAGS)])
    assert len(names(workout)) == MOST_TAGS


def test_what_is_left_out_of_a_description_stays(workout):
    set_note(workout, "windy")
    describe_workout(workout, tags=["gym"])
    describe_workout(workout, note="calm")
    assert (workout.note, names(workout)) == ("calm", ["gym"])


def test_no_estimate_depends_on_a_tag(ana, workout):
    set_tags(workout, ["gym"])
    ana.refresh_from_db()
    assert (ana.log_revision, workout.parts.get().input_revision) == (0, 1)


def test_names_are_read_from_a_text_with_commas():
    assert tags_in("gym, hill repeats,, ") == ["gym", " hill repeats"]


def test_tags_of_many_workouts_come_in_one_query(ana, workout, django_assert_num_queries):
    set_tags(workout, ["hot", "gym"])
    other = part(ana, MORNING.replace(day=3)).workout
    with django_assert_num_queries(1):
        assert tags_by_workout(ana, [workout.pk, other.pk]) == {workout.pk: ["gym", "hot"]}
