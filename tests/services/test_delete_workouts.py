"""What a deletion takes out of the log, and what it leaves."""

# mypy: disable-error-code="union-attr"

from datetime import timedelta

import pytest

from tests.builders import MORNING, activity_of, athlete, csv_file, imported, part
from trainlog import originals
from trainlog.models import Deletion, Part, Recording, Workout
from trainlog.services.delete_workouts import delete_recording, delete_workout, delete_workouts
from trainlog.services.edit_workout import split_part

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("data_folder")]


def at(minutes):
    return MORNING + timedelta(minutes=minutes)


def test_deleting_the_only_recording_takes_its_workout_and_keeps_its_bytes():
    owner = athlete()
    recording = imported(owner, csv_file())
    delete_recording(recording)
    assert not Workout.objects.exists()
    assert originals.read(owner.pk, recording.sha256)


def test_deleting_one_of_two_recordings_draws_the_workout_in():
    owner = athlete()
    short, long = imported(owner, csv_file(at(5), 20)), imported(owner, csv_file(at(0), 60, device="strap"))
    assert short.workout_id is not None
    delete_recording(long)
    workout = Workout.objects.get()
    assert (workout.start, workout.end) == (at(5), at(25))
    assert workout.parts.get().end == at(25)


def test_deleting_a_recording_from_a_typed_workout_leaves_the_workout():
    owner = athlete()
    typed = part(owner, at(0), 60).workout
    delete_recording(imported(owner, csv_file(at(5), 50)))
    assert Workout.objects.get() == typed


def test_deleting_a_bridging_recording_gives_back_the_workouts_it_joined():
    owner = athlete()
    imported(owner, csv_file(at(0), 20))
    imported(owner, csv_file(at(20), 20, sports=("lifting",)))
    delete_recording(imported(owner, csv_file(at(1), 38, device="strap")))
    found = Workout.objects.of(owner).order_by("start")
    assert [(row.start, row.end) for row in found] == [(at(0), at(20)), (at(20), at(40))]
    assert [row.parts.get().activity.slug for row in found] == ["run", "lifting"]


def test_deleting_a_file_that_was_refused_leaves_the_log_as_it_is():
    owner = athlete()
    kept = imported(owner, csv_file())
    delete_recording(imported(owner, b"nothing of use"))
    assert list(Recording.objects.of(owner)) == [kept]


def test_deleting_a_workout_takes_its_recordings_and_keeps_their_bytes():
    owner = athlete()
    rows = [imported(owner, csv_file(at(i), 20, device=str(i))) for i in range(2)]
    delete_workout(Workout.objects.get())
    assert not Recording.objects.exists()
    assert not Part.objects.exists()
    assert all(originals.read(owner.pk, row.sha256) for row in rows)


def test_what_was_deleted_can_be_imported_again():
    owner = athlete()
    delete_recording(imported(owner, csv_file()))
    assert imported(owner, csv_file()).state == "read"
    assert Workout.objects.of(owner).count() == 1


def test_a_deletion_is_called_by_what_was_done_that_day():
    owner = athlete()
    run = part(owner)
    later = split_part(run, at(30))
    later.activity = activity_of(owner, "lifting")
    later.save()
    assert delete_workout(run.workout).what == "run + lifting of 2 March 2026"


def test_several_workouts_are_one_deletion():
    owner = athlete()
    parts = [part(owner, at(24 * 60 * day)) for day in range(3)]
    deletion = delete_workouts(owner, [row.workout for row in parts])
    assert deletion.what == "3 workouts of 2 March 2026 to 4 March 2026"
    assert Deletion.objects.of(owner).count() == 1
    assert not Workout.objects.of(owner).exists()
