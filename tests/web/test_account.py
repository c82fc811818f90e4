from datetime import UTC, date, datetime

import pytest

from tests.builders import athlete
from trainlog.models import Activity, Athlete, Physiology
from trainlog.services.edit_workout import add_typed_workout

pytestmark = pytest.mark.django_db

FIGURES = {
    "from_day": "2026-03-01",
    "resting_rate": "48",
    "resting_error": "3",
    "maximum_rate": "191",
    "maximum_source": "measured",
    "maximum_error": "",
    "weighting": "women",
}


@pytest.fixture
def ana(client):
    owner = athlete()
    client.force_login(owner.user)
    return owner


def enter(client, **changes):
    return client.post("/account/physiology", FIGURES | changes)


def test_the_time_zone_is_kept(client, ana):
    client.post(
        "/account/settings", {"time_zone": "Europe/Lisbon", "keep_positions": "on", "near_per_cent": "10"}
    )
    ana.refresh_from_db()
    assert (ana.time_zone, ana.keep_positions) == ("Europe/Lisbon", True)


def test_how_near_a_load_must_be_is_asked_in_words_and_kept(client, ana):
    shown = client.get("/account/settings").content.decode()
    assert "How near a load must be to serve you, in % of the true one" in shown
    assert "advice on when to wear one goes by the chance of that" in shown
    client.post("/account/settings", {"time_zone": "UTC", "near_per_cent": "7"})
    ana.refresh_from_db()
    assert ana.near_per_cent == 7


@pytest.mark.parametrize("near", ["1", "31", ""])
def test_a_nearness_that_serves_nobody_is_refused_beside_its_field(client, ana, near):
    response = client.post("/account/settings", {"time_zone": "UTC", "near_per_cent": near})
    assert response.status_code == 422
    assert "id_near_per_cent_error" in response.content.decode()
    ana.refresh_from_db()
    assert ana.near_per_cent == 10


def test_a_word_that_is_no_time_zone_is_explained_and_not_kept(client, ana):
    response = client.post("/account/settings", {"time_zone": "Atlantis", "near_per_cent": "10"})
    assert response.status_code == 422
    assert "is no time zone" in response.content.decode()
    ana.refresh_from_db()
    assert ana.time_zone == "UTC"


def test_physiology_is_kept_with_the_usual_error_of_a_measured_maximum(client, ana):
    assert enter(client)["Location"] == "/"
    row = Physiology.objects.of(ana).get()
    assert (row.maximum_rate, row.maximum_error, row.weighting) == (191, 3, "women")


def test_physiology_leads_on_to_the_log_until_there_is_a_workout(client, ana):
    assert enter(client)["Location"] == "/"
    add_typed_workout(
        ana, datetime(2026, 3, 2, 7, tzinfo=UTC), 40, Activity.objects.of(ana).get(slug="run"), 5
    )
    assert enter(client)["Location"] == "/account"


def test_each_section_of_the_account_is_a_line_that_leads_to_it(client, ana):
    shown = client.get("/account").content.decode()
    for name in [
        "measure",
        "settings",
        "care",
        "away",
        "activities",
        "password",
        "programs",
        "second-step",
        "sign-ins",
        "privacy",
        "take",
        "delete",
    ]:
        assert f'<a href="/account/{name}">' in shown
        assert client.get(f"/account/{name}").status_code == 200
    assert "UTC at home, near is within 10%, places are left out" in shown
    assert "no program has a token" in shown


def test_a_maximum_is_predicted_from_age_with_its_own_error(client, ana):
    enter(client, maximum_rate="", age="40")
    row = Physiology.objects.of(ana).get()
    assert (row.maximum_rate, row.maximum_source, row.maximum_error) == (180, "age", 10)


def test_neither_maximum_nor_age_is_explained(client, ana):
    response = enter(client, maximum_rate="")
    assert response.status_code == 422
    assert "an age to predict one from" in response.content.decode()


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"maximum_rate": "300"}, "between 100 and 240 bpm"),
        ({"resting_rate": "10"}, "between 25 and 120 bpm"),
        ({"resting_rate": "100", "maximum_rate": "110"}, "more than 20 bpm above"),
        ({"weighting": "own"}, "needs its factor and its exponent"),
        ({"maximum_error": "50"}, "between 0 and 20 bpm"),
    ],
)
def test_figures_that_no_heart_has_are_explained_once(client, ana, changes, words):
    response = enter(client, **changes)
    assert response.status_code == 422
    assert response.content.decode().count(words) == 1
    assert not Physiology.objects.exists()


def test_a_row_can_be_changed(client, ana):
    enter(client)
    row = Physiology.objects.of(ana).get()
    assert "191" in client.get(f"/account/physiology?row={row.pk}").content.decode()
    enter(client, row=row.pk, maximum_rate="188")
    assert Physiology.objects.of(ana).get().maximum_rate == 188


def test_a_second_row_of_a_day_replaces_the_first(client, ana):
    enter(client)
    enter(client, maximum_rate="185")
    assert Physiology.objects.of(ana).get().maximum_rate == 185


def test_a_new_row_starts_from_the_newest(client, ana):
    enter(client, resting_rate="44")
    assert 'value="44.0"' in client.get("/account/physiology").content.decode()


def test_rows_of_others_are_not_found(client, ana):
    theirs = Physiology.objects.create(
        owner=athlete("bo"), from_day=date(2026, 1, 1), resting_rate=50, maximum_rate=190
    )
    assert client.get(f"/account/physiology?row={theirs.pk}").status_code == 404
    assert enter(client, row=theirs.pk).status_code == 404


def test_the_password_can_be_changed_and_one_stays_signed_in(client, ana):
    new = "another long one 7"
    fields = {"old_password": "a long password"}
    client.post("/account/password", fields | {"new_password1": new, "new_password2": new})
    assert Athlete.objects.get().user.check_password(new)
    assert client.get("/account").status_code == 200


def test_a_wrong_old_password_is_explained(client, ana):
    fields = {
        "old_password": "wrong",
        "new_password1": "xkcd 42 xkcd",
        "new_password2": "",
    }
    response = client.post("/account/password", fields)
    assert response.status_code == 422
    assert "old password was entered incorrectly" in response.content.decode()


def test_an_activity_of_ones_own_can_be_added_and_is_shown_in_its_family(client, ana):
    response = client.post("/account/activity", {"name": "Hill repeats", "family": "intervals"}, follow=True)
    assert "Hill repeats" in response.content.decode()
    assert Activity.objects.of(ana).get(slug="hill-repeats").family == "intervals"


def test_an_activity_that_is_there_already_is_refused_beside_its_field(client, ana):
    response = client.post("/account/activity", {"name": "Run", "family": "steady"})
    assert response.status_code == 422
    assert "There is an activity “Run” already." in response.content.decode()


def test_a_new_time_zone_moves_workouts_to_their_local_day(client, ana):
    run = Activity.objects.of(ana).get(slug="run")
    workout = add_typed_workout(ana, datetime(2026, 3, 2, 23, 30, tzinfo=UTC), 40, run, 5)
    client.post("/account/settings", {"time_zone": "Europe/Athens", "near_per_cent": "10"})
    workout.refresh_from_db()
    assert workout.day == date(2026, 3, 3)
