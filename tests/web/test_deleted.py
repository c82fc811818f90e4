"""The page of what was deleted lately, and the button in the message of a deletion."""

# mypy: disable-error-code="union-attr"

import pytest
from django.test import Client

from tests.builders import MORNING, activity_of, csv_file, imported, part
from trainlog import originals
from trainlog.models import CheckIn, Deletion, PlannedSession, Recording, Workout
from trainlog.services.check_in import delete_check_in, save_check_in
from trainlog.services.delete_workouts import delete_workout
from trainlog.services.edit_workout import add_typed_workout
from trainlog.services.lift_sets import add_set

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("data_folder")]


@pytest.fixture
def client(ana):
    browser = Client()
    browser.force_login(ana.user)
    return browser


def text(answer):
    return " ".join(answer.content.decode().split())


def test_the_message_of_a_deletion_holds_a_button_that_undoes_it(ana, client):
    workout = part(ana).workout
    page = text(client.post(f"/workouts/{workout.pk}/delete", follow=True))
    deletion = Deletion.objects.get()
    assert "Deleted: run of 2 March 2026." in page
    assert f'action="/deleted/{deletion.pk}/put-back"' in page
    answer = client.post(f"/deleted/{deletion.pk}/put-back", follow=True)
    assert answer.redirect_chain == [(f"/workouts/{workout.pk}", 302)]
    assert "Put back: run of 2 March 2026." in text(answer)
    assert Workout.objects.get() == workout


def test_deleted_lately_says_what_when_and_until_when(ana, client):
    delete_workout(part(ana).workout)
    deletion = Deletion.objects.get()
    deletion.deleted_at = deletion.deleted_at.replace(microsecond=0)
    page = text(client.get("/deleted"))
    assert "<b>run of 2 March 2026</b>" in page
    assert f"deleted {deletion.deleted_at.day} {deletion.deleted_at:%B, %H:%M}" in page
    assert "(29 days left)" in page


def test_nothing_deleted_is_said_so(client):
    assert "Nothing was deleted in the last 30 days." in text(client.get("/deleted"))


@pytest.mark.parametrize("address", ["/", "/account"])
def test_the_page_is_reached_from_log_and_account(ana, client, address):
    part(ana)
    assert 'href="/deleted"' in text(client.get(address))


def test_a_log_that_was_deleted_wholly_still_leads_to_what_can_be_put_back(ana, client):
    assert "/deleted" not in text(client.get("/"))
    delete_workout(part(ana).workout)
    assert 'href="/deleted"' in text(client.get("/"))


def test_what_stands_in_the_way_is_said_and_the_deletion_stays(ana, client):
    deletion = delete_workout(part(ana).workout)
    add_typed_workout(ana, MORNING, 30, activity_of(ana, "row"), None)
    page = text(client.post(f"/deleted/{deletion.pk}/put-back", follow=True))
    assert "Nothing was put back. There is a workout now from 06:30" in page
    assert Deletion.objects.get() == deletion


def test_deleting_for_good_asks_first_and_takes_the_original(ana, client):
    recording = imported(ana, csv_file())
    deletion = delete_workout(recording.workout)
    asked = text(client.get(f"/deleted/{deletion.pk}/delete"))
    assert "Delete for good: run of 2 March 2026?" in asked
    assert "the original file leave" in asked
    assert Deletion.objects.exists()
    page = text(client.post(f"/deleted/{deletion.pk}/delete", follow=True))
    assert "Deleted for good: run of 2 March 2026." in page
    assert not Deletion.objects.exists()
    assert not originals.path_of(ana.pk, recording.sha256).exists()


def test_a_file_dismissed_from_the_progress_can_be_had_back_at_once(ana, client):
    refused = imported(ana, b"nothing of use", "x.csv")
    page = text(client.post(f"/files/{refused.pk}/delete", headers={"HX-Request": "true"}))
    assert "Deleted: file x.csv." in page
    client.post(f"/deleted/{Deletion.objects.get().pk}/put-back")
    assert Recording.objects.get() == refused


def test_a_deleted_set_can_be_had_back_from_the_table_it_left(ana, client):
    line = add_set(part(ana, activity="lifting"), {"exercise": "squat", "repetitions": 5})
    page = text(client.post(f"/sets/{line.pk}/delete", headers={"HX-Request": "true"}))
    assert "Deleted: 1 × 5 squat of 2 March 2026." in page
    answer = client.post(f"/deleted/{Deletion.objects.get().pk}/put-back")
    assert answer["Location"] == f"/workouts/{line.part.workout_id}#sets-{line.part_id}"


def test_a_morning_and_a_planned_session_are_shown_where_they_are(ana, client):
    day = MORNING.date()
    delete_check_in(save_check_in(ana, day, {"resting_rate": 50}))
    answer = client.post(f"/deleted/{Deletion.objects.get().pk}/put-back")
    assert answer["Location"] == "/check-in?day=2026-03-02"
    assert CheckIn.objects.of(ana).exists()
    session = PlannedSession.objects.create(owner=ana, day=day, activity=activity_of(ana, "run"))
    client.post(f"/planned/{session.pk}/delete")
    answer = client.post(f"/deleted/{Deletion.objects.get().pk}/put-back")
    assert answer["Location"] == "/week/2026-03-02"
    assert PlannedSession.objects.get() == session
