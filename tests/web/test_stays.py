"""Stays on the account page, and times by the clock there."""

from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from tests.builders import activity_of, athlete, estimate, part
from trainlog.models import Stay, Workout
from trainlog.services.stays import save_stay

pytestmark = pytest.mark.django_db

EARLY = datetime(2026, 4, 7, 6, 50, tzinfo=ZoneInfo("Asia/Tokyo"))
FIELDS = {"time_zone": "Asia/Tokyo", "first_day": "2026-04-06", "last_day": "2026-04-12"}


@pytest.fixture
def ana(client):
    owner = athlete(time_zone="Europe/Lisbon")
    client.force_login(owner.user)
    return owner


def away(owner):
    return save_stay(owner, Stay(**FIELDS | {"first_day": date(2026, 4, 6), "last_day": date(2026, 4, 12)}))


def page(client, address):
    response = client.get(address)
    assert response.status_code == 200
    return response.content.decode()


def test_a_stay_is_added_and_listed(client, ana):
    assert "No stay is noted" in page(client, "/account/away")
    assert client.post("/account/stays", FIELDS).url == "/account/away"
    shown = page(client, "/account/away")
    assert "Asia/Tokyo</th><td>6 Apr 2026</td><td>12 Apr 2026</td>" in shown


def test_a_stay_is_changed(client, ana):
    row = away(ana)
    assert 'value="2026-04-06"' in page(client, f"/account/stays/{row.pk}")
    client.post(f"/account/stays/{row.pk}", FIELDS | {"time_zone": "Asia/Seoul"})
    assert Stay.objects.get().time_zone == "Asia/Seoul"


def test_a_stay_is_deleted_by_a_button_alone(client, ana):
    row = away(ana)
    assert client.get(f"/account/stays/{row.pk}/delete").status_code == 405
    client.post(f"/account/stays/{row.pk}/delete")
    assert not Stay.objects.exists()


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"time_zone": "Atlantis"}, "is no time zone"),
        ({"last_day": "2026-04-01"}, "ends on the day it began or later"),
        ({"first_day": ""}, "This field is required"),
        ({"time_zone": "Asia/Seoul"}, "There is a stay in Asia/Tokyo from 2026-04-06 to 2026-04-12 already"),
    ],
)
def test_a_stay_that_cannot_be_comes_back_with_the_reason(client, ana, changes, said):
    away(ana)
    response = client.post("/account/stays", FIELDS | changes)
    assert response.status_code == 422
    assert said in response.content.decode()
    assert Stay.objects.count() == 1


def test_times_are_those_of_the_clock_there_and_the_zone_is_named(client, ana):
    away(ana)
    estimate(part(ana, EARLY))
    workout = Workout.objects.get()
    for address in ("/", "/week/2026-04-07"):
        assert '06:50 <span class="zone">Tokyo time</span>' in page(client, address)
    shown = page(client, f"/workouts/{workout.pk}")
    assert "Tuesday 7 April 2026, 06:50 – 07:50, Tokyo time" in shown
    assert "21:50" not in shown


def test_times_at_home_name_no_zone(client, ana):
    estimate(part(ana, EARLY))
    shown = page(client, "/")
    assert "22:50" in shown
    assert "Tokyo" not in shown


def test_a_time_is_typed_by_the_clock_of_the_day(client, ana):
    away(ana)
    shown = page(client, "/workouts/new")
    assert "Europe/Lisbon at home, Asia/Tokyo from 6 Apr 2026 to 12 Apr 2026" in shown
    run = activity_of(ana, "run").pk
    for day in ("2026-04-07", "2026-04-20"):
        typed = {"day": day, "time": "06:50", "minutes": "30", "activity": run, "session_rpe": "4"}
        client.post("/workouts/new", typed)
    starts = list(Workout.objects.order_by("start").values_list("start", flat=True))
    assert starts == [EARLY, datetime(2026, 4, 20, 6, 50, tzinfo=ZoneInfo("Europe/Lisbon"))]


def test_what_was_typed_is_said_back_with_its_clock(client, ana):
    away(ana)
    typed = {"day": "2026-04-07", "time": "06:50", "minutes": "30", "activity": activity_of(ana, "run").pk}
    response = client.post("/workouts/new", typed, follow=True)
    assert "Logged for 06:50 on Tuesday (Tokyo time)." in response.content.decode()


def test_a_time_without_a_day_is_of_the_day_where_the_athlete_is(client, ana, monkeypatch):
    monkeypatch.setattr("django.utils.timezone.now", lambda: EARLY + timedelta(minutes=40))
    away(ana)
    client.post("/workouts/new", {"time": "06:50", "minutes": "30", "activity": activity_of(ana, "run").pk})
    assert Workout.objects.get().start == EARLY
