"""Days that are not known by the API."""

import pytest

from tests.builders import athlete, estimate, part
from trainlog.models import UnknownDay

pytestmark = pytest.mark.django_db

ADDRESS = "/api/unknown-days/2026-03-04"


@pytest.fixture
def ana(client):
    owner = athlete()
    client.force_login(owner.user)
    return owner


def put(client, address=ADDRESS, **noted):
    return client.put(address, noted, content_type="application/json")


def test_a_day_is_marked_shown_listed_and_unmarked(client, ana):
    assert client.get(ADDRESS).status_code == 404
    marked = {"day": "2026-03-04", "note": "On a boat"}
    assert put(client, note="On a boat").json() == marked
    assert client.get(ADDRESS).json() == marked
    assert client.get("/api/unknown-days?from=2026-03-01&to=2026-03-31").json() == [marked]
    assert client.delete(ADDRESS).status_code == 204
    assert client.delete(ADDRESS).status_code == 404
    assert not UnknownDay.objects.exists()


def test_the_week_says_which_days_are_not_known(client, ana):
    estimate(part(ana))
    put(client)
    week = client.get("/api/weeks/2026-03-04").json()
    assert week["unknown_days"] == 1
    assert [day["unknown"] for day in week["days"]] == [False, False, True, False, False, False, False]
    assert week["against_last"] is None


@pytest.mark.parametrize("address", ["/api/unknown-days/2999-01-01", "/api/unknown-days/soon"])
def test_a_day_that_cannot_be_marked_is_a_problem_in_words(client, ana, address):
    answer = put(client, address)
    assert answer.status_code == 422
    assert answer.json()["detail"]
