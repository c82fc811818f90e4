from datetime import timedelta

import pytest
from django.utils import timezone

from tests.builders import MORNING, activity_of, athlete, part
from trainlog.models import Part

pytestmark = pytest.mark.django_db


@pytest.fixture
def ana(client):
    owner = athlete()
    client.force_login(owner.user)
    return owner


def typed(client, ana, **changes):
    fields = {
        "day": "2026-03-02",
        "time": "07:15",
        "minutes": "45",
        "activity": activity_of(ana, "lifting").pk,
        "session_rpe": "6",
        "note": "",
    }
    return client.post("/workouts/new", fields | changes)


def test_a_session_can_be_typed_in_local_time(client, ana):
    ana.time_zone = "Asia/Tokyo"
    ana.save()
    typed(client, ana)
    one = Part.objects.of(ana).get()
    assert one.start.isoformat() == "2026-03-01T22:15:00+00:00"
    assert one.workout.day.isoformat() == "2026-03-02"
    assert (one.session_rpe, one.seconds, one.activity.slug) == (6, 45 * 60, "lifting")


def test_a_typed_session_needs_no_rating(client, ana):
    typed(client, ana, session_rpe="")
    assert Part.objects.of(ana).get().session_rpe is None


def test_a_session_over_another_is_explained(client, ana):
    typed(client, ana)
    response = typed(client, ana, time="07:30")
    assert response.status_code == 422
    assert "There is a workout already" in response.content.decode()


@pytest.mark.parametrize("minutes", ["0", "2000", "long"])
def test_a_length_that_cannot_be_is_explained_beside_the_field(client, ana, minutes):
    response = typed(client, ana, minutes=minutes)
    assert response.status_code == 422
    assert 'id="id_minutes_error"' in response.content.decode()


def test_a_session_of_running_leads_back_to_the_log(client, ana):
    response = typed(client, ana, activity=activity_of(ana, "run").pk)
    assert response["Location"] == "/"


def test_a_session_of_lifting_leads_to_its_sets(client, ana):
    response = typed(client, ana)
    one = Part.objects.of(ana).get()
    assert response["Location"] == f"/workouts/{one.workout_id}#sets-{one.pk}"
    assert "Add its sets?" in client.get(response["Location"]).content.decode()


def test_without_a_time_the_session_has_just_ended(client, ana):
    typed(client, ana, day="", time="")
    one = Part.objects.of(ana).get()
    assert timedelta(0) <= timezone.now() - one.end < timedelta(minutes=2)
    assert one.seconds == 45 * 60


def test_a_time_without_a_day_is_todays(client, ana):
    typed(client, ana, day="", time="00:00", minutes="1")
    assert Part.objects.of(ana).get().workout.day == ana.today()


def test_a_day_without_a_time_is_asked_for_the_time(client, ana):
    response = typed(client, ana, time="")
    assert response.status_code == 422
    assert "Say when it began" in response.content.decode()


def test_a_length_is_asked_for_where_none_is_usual(client, ana):
    response = typed(client, ana, minutes="")
    assert response.status_code == 422
    assert "Choose how long it was" in response.content.decode()
    assert not Part.objects.of(ana).exists()


def test_the_last_activity_and_its_usual_length_are_chosen_already(client, ana):
    for day, minutes in enumerate((41, 50, 62)):
        part(ana, MORNING + timedelta(days=day), minutes, activity="row")
    shown = client.get("/workouts/new").content.decode()
    assert f'<option value="{activity_of(ana, "row").pk}" selected>row</option>' in shown
    assert [f'value="{minutes}"' in shown for minutes in (35, 50, 65)] == [True] * 3
    assert 'value="50" id="id_usual_1" checked' in shown


def test_another_activity_is_asked_for_with_its_own_length(client, ana):
    part(ana, MORNING, 20, activity="row")
    part(ana, MORNING + timedelta(days=1), 90, activity="ride")
    shown = client.get("/workouts/new", {"activity": activity_of(ana, "row").pk}).content.decode()
    assert 'value="20" id="id_usual_1" checked' in shown


def test_nothing_is_chosen_for_an_activity_without_a_session(client, ana):
    shown = client.get("/workouts/new").content.decode()
    assert "45 min" in shown
    assert 'name="usual" value="45" id="id_usual_1" checked' not in shown


def test_the_length_offered_for_another_activity_is_taken_too(client, ana):
    part(ana, MORNING - timedelta(days=3), 90, activity="ride")
    typed(client, ana, minutes="", usual="90")
    assert Part.objects.of(ana).order_by("-start")[0].seconds == 90 * 60


@pytest.mark.parametrize("usual", ["0", "99999", "9" * 30, "9" * 5000, "-5", "long"])
def test_no_length_that_was_never_offered_is_taken(client, ana, usual):
    assert typed(client, ana, minutes="", usual=usual).status_code == 422
    assert not Part.objects.of(ana).exists()


def test_a_typed_length_is_taken_before_a_tapped_one(client, ana):
    typed(client, ana, usual="30")
    assert Part.objects.of(ana).get().seconds == 45 * 60


def test_tags_are_kept_with_the_session(client, ana):
    typed(client, ana, tags="gym, early")
    assert [tag.name for tag in Part.objects.of(ana).get().workout.tags.all()] == ["early", "gym"]


def test_a_session_whose_tags_cannot_be_is_not_kept(client, ana):
    response = typed(client, ana, tags="x" * 41)
    assert response.status_code == 422
    assert "<details open><summary>More" in response.content.decode()
    assert not Part.objects.of(ana).exists()


def test_an_activity_of_another_is_neither_chosen_nor_shown(client, ana):
    theirs = activity_of(athlete("bo"), "row")
    assert f'value="{theirs.pk}"' not in client.get("/workouts/new", {"activity": theirs.pk}).content.decode()
    assert typed(client, ana, activity=theirs.pk).status_code == 422
