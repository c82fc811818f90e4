"""One form around the list of the log: what is chosen is changed, and the page says what was."""

from datetime import timedelta

import pytest
from django.test import Client

from tests.builders import MORNING, activity_of, athlete, csv_file, imported, part, sensor
from trainlog.models import Deletion, Part, Recording, Workout

pytestmark = pytest.mark.django_db


@pytest.fixture
def client(ana):
    browser = Client()
    browser.force_login(ana.user)
    return browser


def chosen(owner):
    return [row.pk for row in Workout.objects.of(owner)]


def send(client, **fields):
    answer = client.post("/workouts/several", fields, follow=True)
    return " ".join(answer.content.decode().split())


def test_each_line_has_a_box_that_belongs_to_the_form(ana, client):
    workout = part(ana).workout
    page = client.get("/").content.decode()
    assert '<form id="several-form" method="post" action="/workouts/several">' in page
    assert f'form="several-form" name="workout" value="{workout.pk}"' in page
    assert 'aria-label="Choose run of 2 March"' in page


def test_a_log_without_workouts_offers_nothing_to_change(ana, client):
    assert "Change several workouts" not in client.get("/").content.decode()


def test_the_activity_of_the_chosen_is_set(ana, client):
    parts = [part(ana, MORNING + timedelta(days=day)) for day in range(3)]
    two = [row.workout_id for row in parts[:2]]
    page = send(client, workout=two, do="activity", activity=activity_of(ana, "ride").pk)
    assert "2 workouts set to ride." in page
    assert [row.activity.slug for row in Part.objects.of(ana).order_by("start")] == ["ride", "ride", "run"]


def test_the_sensor_of_the_chosen_is_set(ana, client, settings, tmp_path):
    settings.DATA_FOLDER = tmp_path
    right = sensor(ana, "right")
    imported(ana, csv_file())
    page = send(client, workout=chosen(ana), do="sensor", sensor_from="0", sensor_to=right.pk)
    assert "Sensor of 1 recording changed from not known to right." in page
    assert Recording.objects.get().sensor == right


def test_tags_are_added_and_removed(ana, client):
    workout = part(ana).workout
    assert "tagged “gym”, “rain”." in send(client, workout=chosen(ana), do="add-tags", tags="gym, rain")
    assert "no longer tagged “rain”." in send(client, workout=chosen(ana), do="remove-tags", tags="rain")
    assert [tag.name for tag in workout.tags.all()] == ["gym"]


def test_the_chosen_are_deleted_as_one_deletion_with_a_way_back(ana, client):
    for day in range(3):
        part(ana, MORNING + timedelta(days=day))
    page = send(client, workout=chosen(ana), do="delete")
    deletion = Deletion.objects.get()
    assert "Deleted: 3 workouts of 2 March 2026 to 4 March 2026." in page
    assert f"/deleted/{deletion.pk}/put-back" in page
    client.post(f"/deleted/{deletion.pk}/put-back")
    assert Workout.objects.of(ana).count() == 3


@pytest.mark.parametrize("do", ["activity", "sensor", "add-tags", "remove-tags", "delete", "", "else"])
def test_nothing_chosen_changes_nothing_and_says_so(ana, client, do):
    part(ana)
    assert "Nothing was changed." in send(client, do=do, activity=activity_of(ana, "ride").pk)
    assert Workout.objects.of(ana).count() == 1


@pytest.mark.parametrize("do", ["activity", "sensor", "add-tags", "remove-tags"])
def test_an_empty_field_is_said_so(ana, client, do):
    part(ana)
    assert "Fill in what stands beside the button first." in send(client, workout=chosen(ana), do=do)


def test_a_sensor_of_someone_else_is_no_choice(ana, client):
    part(ana)
    theirs = sensor(athlete("bo"))
    page = send(client, workout=chosen(ana), do="sensor", sensor_from="0", sensor_to=theirs.pk)
    assert "Nothing was changed." in page


def test_the_page_that_was_open_is_shown_again(ana, client):
    part(ana)
    answer = client.post("/workouts/several", {"do": "delete", "back": "text=run&page=1"})
    assert answer["Location"] == "/?text=run&page=1"
