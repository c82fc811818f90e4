"""Deleting and putting back by programs."""

import pytest

from tests.builders import MORNING, activity_of, csv_file, imported, part
from trainlog.models import Deletion, Recording, Workout
from trainlog.services.edit_workout import add_typed_workout

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("data_folder")]


def test_a_workout_is_deleted_listed_and_put_back(ana, signed_in):
    workout = part(ana).workout
    deleted = signed_in.delete(f"/api/workouts/{workout.pk}").json()
    assert deleted["what"] == "run of 2 March 2026"
    assert signed_in.get("/api/deleted").json() == [deleted]
    answer = signed_in.post(f"/api/deleted/{deleted['id']}/put-back").json()
    assert answer == {"what": "run of 2 March 2026", "workout": workout.pk, "remark": ""}
    assert Workout.objects.get() == workout
    assert signed_in.get("/api/deleted").json() == []


def test_a_file_is_deleted_and_put_back(ana, signed_in):
    recording = imported(ana, csv_file(), "a.csv")
    deleted = signed_in.delete(f"/api/files/{recording.pk}").json()
    assert deleted["what"] == "file a.csv"
    assert signed_in.post(f"/api/deleted/{deleted['id']}/put-back").json()["workout"] == recording.workout_id
    assert Recording.objects.get() == recording


def test_what_stands_in_the_way_is_answered_in_words(ana, signed_in):
    deleted = signed_in.delete(f"/api/workouts/{part(ana).workout.pk}").json()
    add_typed_workout(ana, MORNING, 30, activity_of(ana, "row"), None)
    answer = signed_in.post(f"/api/deleted/{deleted['id']}/put-back")
    assert answer.status_code == 422
    assert "Delete that one first" in answer.json()["detail"]


def test_deleting_for_good_leaves_nothing_to_put_back(ana, signed_in):
    deleted = signed_in.delete(f"/api/workouts/{part(ana).workout.pk}").json()
    assert signed_in.delete(f"/api/deleted/{deleted['id']}").status_code == 204
    assert not Deletion.objects.exists()
    assert signed_in.post(f"/api/deleted/{deleted['id']}/put-back").status_code == 404
