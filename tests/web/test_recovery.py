from datetime import timedelta

import pytest
from django.utils import timezone

from tests import builders
from trainlog.models import CheckIn
from trainlog.services.recovery_check import claims_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def ana(client):
    owner = builders.athlete()
    client.force_login(owner.user)
    return owner


def session(owner, hours_ago=20, **in_domains):
    part = builders.part(owner, timezone.now().replace(microsecond=0) - timedelta(hours=hours_ago), 60)
    builders.estimate(part, 100.0)
    builders.intensity(part, **in_domains)
    return part.workout


def page(client, address="/recovery"):
    response = client.get(address)
    assert response.status_code == 200
    return response.content.decode()


def test_an_empty_log_says_that_nothing_holds_back(client, ana):
    assert "No session of the last three days holds you back" in page(client)


@pytest.mark.parametrize("address", ["/recovery", "/check-in"])
def test_a_recent_session_without_a_load_is_not_taken_for_none(client, ana, address):
    builders.part(ana, timezone.now() - timedelta(hours=20), 60)
    shown = page(client, address)
    assert "1 workout of the last three days has no load yet, so what it leaves is not known." in shown
    assert "holds you back" not in shown


def test_now_names_the_range_and_the_session_behind_it(client, ana):
    workout = session(ana, high=60)
    shown = page(client)
    assert "Until the next hard session" in shown
    assert f'href="/workouts/{workout.pk}"' in shown


def test_the_morning_page_says_it_too(client, ana):
    session(ana, high=60)
    assert "Until the next hard session" in page(client, "/check-in")


def test_a_workout_says_between_when_one_is_ready_again(client, ana):
    workout = session(ana, high=60)
    shown = page(client, f"/workouts/{workout.pk}")
    assert "until ready for the next hard session (80% interval)" in shown


def test_a_workout_without_a_load_says_that_it_waits(client, ana):
    workout = builders.part(ana).workout
    assert "once every part has a load" in page(client, f"/workouts/{workout.pk}")


def test_claimed_hours_are_noted_on_the_workouts_page(client, ana):
    workout = session(ana)
    address = f"/workouts/{workout.pk}/claimed-recovery"
    answer = client.post(address, {"fed_by": "wrist", "hours": "26.5"}, follow=True).content.decode()
    assert claims_of(workout) == {"wrist": 26.5}
    assert 'value="26.5"' in answer
    client.post(address, {"fed_by": "wrist", "hours": ""})
    assert claims_of(workout) == {}


def test_hours_that_cannot_be_are_explained_and_not_noted(client, ana):
    workout = session(ana)
    address = f"/workouts/{workout.pk}/claimed-recovery"
    answer = client.post(address, {"fed_by": "wrist", "hours": "900"}, follow=True).content.decode()
    assert "The hours were not noted" in answer
    assert claims_of(workout) == {}


def test_mornings_are_held_against_the_estimate(client, ana):
    workout = session(ana, hours_ago=80, low=60)
    for back in range(1, 40):
        CheckIn.objects.create(
            owner=ana, day=workout.day + timedelta(days=3 - back), resting_rate=50 + back % 2
        )
    shown = page(client)
    assert "In 1 session of the last 120 days" in shown
    assert "in keeping" in shown or "earlier" in shown


def test_claims_from_the_wrist_are_shown_with_what_they_are_worth(client, ana):
    for hours_ago in (20, 60):
        workout = session(ana, hours_ago)
        client.post(f"/workouts/{workout.pk}/claimed-recovery", {"fed_by": "wrist", "hours": "20"})
    client.post(f"/workouts/{workout.pk}/claimed-recovery", {"fed_by": "strap", "hours": "30"})
    shown = page(client, "/recovery/claimed")
    assert "1.50" in shown
    assert "times those from the wrist alone" in shown


def test_nothing_claimed_is_explained(client, ana):
    assert "None is noted" in page(client, "/recovery/claimed")


def test_the_hour_by_which_one_is_ready_is_named(client, ana):
    session(ana, high=60)
    shown = page(client)
    assert "Ready by " in shown or "Ready between " in shown
    assert "still open" in shown


def test_a_session_that_holds_back_no_more_is_not_open(client, ana):
    session(ana, hours_ago=200, low=60)
    assert "still open" not in page(client)
