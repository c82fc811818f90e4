"""Days that are not known, on the week page."""

from datetime import timedelta

import pytest
from django.utils import timezone

from tests.builders import MORNING, athlete, estimate, part
from trainlog.models import UnknownDay
from trainlog.services.unknown_days import mark_unknown

pytestmark = pytest.mark.django_db

MONDAY = MORNING.date()
WEDNESDAY = MONDAY + timedelta(days=2)


@pytest.fixture
def ana(client):
    owner = athlete()
    client.force_login(owner.user)
    return owner


def page(client, address="/week/2026-03-04"):
    response = client.get(address)
    assert response.status_code == 200
    return response.content.decode()


def mark(client, first="2026-03-04", last="2026-03-04", **more):
    return client.post("/unknown-days", {"first_day": first, "last_day": last} | more)


def test_each_past_day_without_a_workout_has_a_button(client, ana):
    estimate(part(ana))
    assert page(client).count('class="mark-day"') == 6


def test_a_day_still_to_come_has_none(client, ana):
    estimate(part(ana, timezone.now() - timedelta(days=7)))
    estimate(part(ana, timezone.now()))
    assert page(client, "/week").count('class="mark-day"') == timezone.now().date().weekday()


def test_a_marked_day_is_not_known_instead_of_rest_and_the_week_says_so(client, ana):
    estimate(part(ana), 100.0)
    assert mark(client).url == "/week/2026-03-04"
    shown = page(client)
    assert shown.count(">not known</span>") == 1
    assert shown.count('<span class="quiet">rest</span>') == 5
    assert "1 day is not known: the week’s load is at least this." in shown
    assert "Not compared with the week before: in this one not every day is known." in shown
    assert "<b>100</b>" in shown


def test_a_mark_is_taken_back(client, ana):
    estimate(part(ana))
    mark(client)
    client.post("/unknown-days/2026-03-04/take-back")
    assert not UnknownDay.objects.exists()
    assert "at least this" not in page(client)


def test_a_range_is_marked_from_the_form_with_a_note(client, ana):
    mark(client, "2026-03-02", "2026-03-08", note="On a boat")
    shown = page(client)
    assert UnknownDay.objects.count() == 7
    assert shown.count("On a boat") == 7
    assert "7 in this week" in shown


def test_a_week_with_nothing_logged_can_be_marked_too(client, ana):
    shown = page(client)
    assert "Nothing is logged in this week." in shown
    assert 'name="first_day" value="2026-03-02"' in shown
    assert 'name="last_day" value="2026-03-08"' in shown


def test_a_day_with_a_workout_may_hold_more_than_is_logged(client, ana):
    estimate(part(ana))
    mark_unknown(ana, MONDAY, MONDAY)
    assert "and more that is not known" in page(client)


@pytest.mark.parametrize(
    ("first", "last", "said"),
    [
        ("2026-03-04", "2026-03-01", "must not be before the first"),
        ("2026-03-04", "2026-06-01", "at most 60 days"),
        ("2026-03-04", "", "This field is required"),
        ("", "", "This field is required"),
        ("0001-01-01", "0001-01-02", "from 1970 on"),
    ],
)
def test_a_range_that_cannot_be_comes_back_with_the_reason(client, ana, first, last, said):
    response = mark(client, first, last)
    assert response.status_code == 422
    assert said in response.content.decode()
    assert not UnknownDay.objects.exists()


def test_what_was_noted_is_escaped(client, ana):
    mark_unknown(ana, WEDNESDAY, WEDNESDAY, "<script>alert(1)</script>")
    assert "<script>alert" not in page(client)
