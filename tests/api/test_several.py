"""Several workouts changed at once by programs."""

from datetime import timedelta

import pytest

from tests.builders import MORNING, athlete, part, send, sensor
from trainlog.models import Part, Workout

pytestmark = pytest.mark.django_db


@pytest.fixture
def two(ana):
    return [part(ana, MORNING + timedelta(days=day)).workout_id for day in range(2)]


def change(browser, **fields):
    return browser.post("/api/several-workouts/change", fields, content_type="application/json")


def test_activity_and_tags_are_set_in_one_go(ana, signed_in, two):
    answer = change(signed_in, workouts=two, activity="ride", add_tags=["gym"])
    assert answer.json() == {
        "done": ["2 workouts set to ride.", "2 workouts tagged “gym”."],
        "left": [],
    }
    assert {row.activity.slug for row in Part.objects.of(ana)} == {"ride"}


def test_what_was_not_changed_is_told(ana, signed_in, two):
    worn = {"sensor_from": None, "sensor_to": sensor(ana).pk}
    answer = change(signed_in, workouts=two, sensor=worn).json()
    assert answer["left"] == ["2 workouts without a recording whose sensor is not known."]


def test_one_workout_of_another_athlete_leaves_them_all(ana, signed_in, two):
    theirs = part(athlete("bo")).workout_id
    assert change(signed_in, workouts=[*two, theirs], activity="ride").status_code == 404
    assert {row.activity.slug for row in Part.objects.of(ana)} == {"run"}


def test_a_sensor_of_another_athlete_is_not_found(ana, signed_in, two):
    worn = {"sensor_from": None, "sensor_to": sensor(athlete("bo")).pk}
    assert change(signed_in, workouts=two, sensor=worn).status_code == 404


def test_nothing_to_change_is_refused(signed_in, two):
    assert change(signed_in, workouts=two).json()["detail"] == "Say what to change."


def test_several_are_deleted_and_put_back_together(ana, signed_in, two):
    deleted = signed_in.post(
        "/api/several-workouts/delete", {"workouts": two}, content_type="application/json"
    ).json()
    assert deleted["what"] == "2 workouts of 2 March 2026 to 3 March 2026"
    signed_in.post(f"/api/deleted/{deleted['id']}/put-back")
    assert Workout.objects.of(ana).count() == 2


def test_a_number_that_no_row_can_have_is_refused(signed_in):
    answer = send(signed_in, "POST", "/api/v1/several-workouts/delete", {"workouts": [2**63]})
    assert answer.status_code == 422
