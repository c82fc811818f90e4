"""Lists that go on are answered a page at a time, and the header Link names the next."""

import re
from datetime import timedelta

import pytest

from tests.builders import MORNING, estimate, part, send
from trainlog.models import CheckIn, Deletion, Stay

pytestmark = pytest.mark.django_db

DAY = MORNING.date()


def pages(client, address, **wanted):
    """Rows of each page, by following the links."""
    answer = client.get(address, wanted)
    while True:
        assert answer.status_code == 200
        yield answer.json()
        link = re.fullmatch(r'<([^>]+)>; rel="next"', answer.get("Link", ""))
        if not link:
            return
        answer = client.get(link[1])


def days(count):
    return [DAY + timedelta(days=i) for i in range(count)]


def test_a_list_is_followed_page_by_page(signed_in, ana):
    for day in days(5):
        CheckIn.objects.create(owner=ana, day=day)
    span = {"from": days(1)[0], "to": days(5)[-1]}
    found = list(pages(signed_in, "/api/v1/check-ins", page_size=2, **span))
    assert [len(page) for page in found] == [2, 2, 1]
    assert [row["day"] for page in found for row in page] == [day.isoformat() for day in days(5)]


def test_a_list_that_fits_names_no_next_page(signed_in, ana):
    CheckIn.objects.create(owner=ana, day=DAY)
    assert "Link" not in signed_in.get("/api/v1/check-ins", {"from": DAY, "to": DAY, "page_size": 1})


def test_what_is_added_and_deleted_meanwhile_repeats_and_hides_nothing(signed_in, ana):
    rows = [CheckIn.objects.create(owner=ana, day=day) for day in days(4)[1:]]
    span = {"from": days(1)[0], "to": days(4)[-1]}
    following = pages(signed_in, "/api/v1/check-ins", page_size=1, **span)
    seen = [next(following)[0]["day"]]
    CheckIn.objects.create(owner=ana, day=DAY)
    rows[0].delete()
    seen += [row["day"] for page in following for row in page]
    assert seen == [day.isoformat() for day in days(4)[1:]]


def test_newest_first_lists_go_on_with_what_is_older(signed_in, ana):
    for day in days(3):
        Stay.objects.create(owner=ana, time_zone="UTC", first_day=day, last_day=day)
    found = [row["first_day"] for page in pages(signed_in, "/api/v1/stays", page_size=1) for row in page]
    assert found == [day.isoformat() for day in reversed(days(3))]


def test_loads_deletions_and_workouts_go_on_likewise(signed_in, ana):
    for hour in range(3):
        made = part(ana, MORNING + timedelta(hours=2 * hour), 30)
        estimate(made)
    span = {"from": DAY, "to": DAY}
    found = [
        row["part"] for page in pages(signed_in, "/api/v1/estimates", page_size=1, **span) for row in page
    ]
    assert len(found) == len(set(found)) == 3
    addresses = [
        page["results"][0]["id"]
        for page in pages(signed_in, "/api/v1/workouts", page_size=1)
        if page["results"]
    ]
    for number in addresses:
        send(signed_in, "DELETE", f"/api/v1/workouts/{number}", {})
    found = [row["id"] for page in pages(signed_in, "/api/v1/deleted", page_size=2) for row in page]
    assert found == list(Deletion.objects.order_by("-deleted_at", "-pk").values_list("pk", flat=True))
    assert len(found) == 3


@pytest.mark.parametrize("cursor", ["x", "é", "bnVsbA==", "WzFd", "W251bGwsIDFd", "W1tdXQ=="])
def test_a_damaged_cursor_is_refused(signed_in, ana, cursor):
    for day in days(2):
        CheckIn.objects.create(owner=ana, day=day)
    wanted = {"from": DAY, "to": days(2)[-1], "cursor": cursor}
    answer = signed_in.get("/api/v1/check-ins", wanted)
    assert answer.status_code == 422
    assert "cursor" in answer.json()["detail"]


def test_loads_of_one_activity_are_listed_alone(signed_in, ana):
    part(ana, MORNING, 30)
    ridden = part(ana, MORNING + timedelta(hours=2), 30, activity="ride")
    wanted = {"from": DAY, "to": DAY, "activity": "ride"}
    assert [row["part"] for row in signed_in.get("/api/v1/estimates", wanted).json()] == [ridden.pk]
