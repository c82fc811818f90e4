"""Stays by the API."""

from datetime import UTC, datetime

import pytest

from tests.builders import athlete, part
from trainlog.models import Stay, Workout

pytestmark = pytest.mark.django_db

STAY = {"time_zone": "Asia/Tokyo", "first_day": "2026-04-06", "last_day": "2026-04-12"}


@pytest.fixture
def ana(client):
    owner = athlete(time_zone="Europe/Lisbon")
    client.force_login(owner.user)
    return owner


def add(client, **changes):
    return client.post("/api/stays", STAY | changes, content_type="application/json")


def test_a_stay_is_added_listed_and_deleted_and_workouts_move_with_it(client, ana):
    part(ana, datetime(2026, 4, 6, 21, 50, tzinfo=UTC))
    answer = add(client)
    assert answer.status_code == 201
    made = answer.json()
    assert made == STAY | {"id": Stay.objects.get().pk}
    assert client.get("/api/stays").json() == [made]
    workout = client.get("/api/workouts").json()["results"][0]
    assert (workout["day"], workout["time_zone"]) == ("2026-04-07", "Asia/Tokyo")
    assert client.delete(f"/api/stays/{made['id']}").status_code == 204
    assert client.get("/api/stays").json() == []
    assert Workout.objects.get().time_zone == ""


@pytest.mark.parametrize(
    "changes",
    [{"time_zone": "Atlantis"}, {"last_day": "2026-04-01"}, {"first_day": "soon"}, {"other": 1}],
)
def test_a_stay_that_cannot_be_is_a_problem_in_words(client, ana, changes):
    answer = add(client, **changes)
    assert answer.status_code == 422
    assert answer.json()["detail"]
    assert not Stay.objects.exists()


def test_a_stay_that_overlaps_another_is_a_problem(client, ana):
    add(client)
    answer = add(client, first_day="2026-04-10", last_day="2026-04-20")
    assert answer.status_code == 422
    assert "There is a stay in Asia/Tokyo" in answer.json()["detail"]


def test_a_stay_that_is_not_there_is_not_found(client, ana):
    assert client.delete("/api/stays/7").status_code == 404
