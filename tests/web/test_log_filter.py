from datetime import timedelta

import pytest

from tests.builders import MORNING, activity_of, athlete, estimate, part, sensor
from trainlog.services.tags import describe_workout

pytestmark = pytest.mark.django_db


@pytest.fixture
def ana(client):
    owner = athlete()
    client.force_login(owner.user)
    return owner


def page(client, **wanted):
    response = client.get("/", wanted)
    assert response.status_code == 200
    return response.content.decode()


def lines(shown):
    return shown.count('<time class="when"')


def test_the_form_is_closed_until_it_is_used(client, ana):
    part(ana)
    assert '<details class="find">' in page(client)
    assert '<details class="find" open>' in page(client, text="run")


def test_what_is_found_is_counted_and_said_in_words(client, ana):
    describe_workout(part(ana, activity="lifting").workout, note="Knee fine", tags=["gym"])
    part(ana, MORNING + timedelta(days=1), activity="row")
    shown = page(client, text="knee", tag="gym", activity="lifting", rated="no", first="2026-03-01")
    assert "1 workout found" in shown
    assert "“knee”, lifting, not rated, tagged “gym”, from 1 March 2026" in shown
    assert lines(shown) == 1


def test_a_week_says_that_its_sum_is_of_what_was_found(client, ana):
    estimate(part(ana, activity="lifting"), 40.0)
    estimate(part(ana, MORNING + timedelta(days=1)), 60.0)
    shown = page(client, activity="lifting")
    assert "found here:" in shown
    assert "<b>100</b>" not in shown


def test_where_nothing_is_found_it_is_said_what_to_loosen(client, ana):
    part(ana, activity="lifting")
    shown = page(client, activity="lifting", rated="yes")
    assert "No workout found" in shown
    assert "Without <b>rated</b>" in shown
    assert 'href="/?activity=lifting">1 workout</a>' in shown


def test_where_no_single_wish_is_to_blame_the_whole_log_is_offered(client, ana):
    part(ana)
    assert "leave out several" in page(client, text="nowhere", worn="strap")
    assert "fewer letters" in page(client, text="nowhere")


def test_paging_keeps_what_is_looked_for(client, ana):
    for week in range(21):
        part(ana, MORNING + timedelta(weeks=week), activity="row")
    shown = page(client, activity="row", text="row")
    assert "21 workouts found" in shown
    assert 'rel="next" href="/?activity=row&amp;text=row&amp;page=1"' in shown
    beyond = page(client, activity="row", page="5")
    assert "21 workouts found" in beyond
    assert "no older weeks" in beyond
    older = page(client, activity="row", text="row", page="1")
    assert lines(older) == 1
    assert 'rel="prev" href="/?activity=row&amp;text=row"' in older


@pytest.mark.parametrize(
    "wrong",
    [
        {"family": "hard"},
        {"activity": "yoga"},
        {"sensor": "x"},
        {"sensor": str(10**30)},
        {"first": "yesterday"},
        {"first": "2026-03-03", "last": "2026-03-02"},
        {"text": "x" * 101},
        {"text": "nul\x00"},
    ],
)
def test_what_makes_no_sense_is_explained_and_nothing_is_looked_for(client, ana, wrong):
    part(ana)
    response = client.get("/", wrong)
    shown = response.content.decode()
    assert response.status_code == 422
    assert 'class="error"' in shown
    assert "Nothing was looked for" in shown
    assert lines(shown) == 0


def test_a_sensor_of_another_is_no_choice(client, ana):
    theirs = sensor(athlete("bo"), "zebra")
    response = client.get("/", {"sensor": theirs.pk})
    assert response.status_code == 422
    assert "zebra" not in response.content.decode()


def test_the_number_of_queries_does_not_grow_with_what_is_found(client, ana, django_assert_max_num_queries):
    for day in range(20):
        estimate(part(ana, MORNING + timedelta(days=day)), 80.0)
    everything = {"text": "run", "activity": "run", "basis": "corrected", "rated": "no", "worn": "nothing"}
    with django_assert_max_num_queries(22):
        assert lines(page(client, **everything)) == 20


def test_an_activity_is_chosen_by_its_slug(client, ana):
    assert f'<option value="{activity_of(ana, "row").slug}" selected>' in page(client, activity="row")
