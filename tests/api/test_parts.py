from datetime import timedelta

import pytest

from tests.builders import MORNING, athlete, part, send

pytestmark = pytest.mark.django_db


@pytest.fixture
def whole(ana):
    return part(ana, minutes=60)


def place(minutes):
    return {"at": (MORNING + timedelta(minutes=minutes)).isoformat()}


def lengths(whole):
    return [row.seconds / 60 for row in whole.workout.parts.all()]


def test_a_program_cuts_a_part_and_moves_and_removes_the_boundary(signed_in, whole):
    first, second = send(signed_in, "POST", f"/api/parts/{whole.pk}/split", place(20)).json()
    assert (first["id"], first["end"]) == (whole.pk, second["start"])
    assert lengths(whole) == [20, 40]
    first, second = send(signed_in, "POST", f"/api/parts/{whole.pk}/boundary", place(35)).json()
    assert first["end"] == second["start"]
    assert lengths(whole) == [35, 25]
    (only,) = send(signed_in, "POST", f"/api/parts/{whole.pk}/join", {}).json()
    assert only["id"] == whole.pk
    assert lengths(whole) == [60]


@pytest.mark.parametrize("what", ["split", "boundary"])
def test_a_place_that_leaves_less_than_a_minute_is_refused_in_words(signed_in, whole, what):
    if what == "boundary":
        send(signed_in, "POST", f"/api/parts/{whole.pk}/split", place(20))
    before = lengths(whole)
    refused = send(signed_in, "POST", f"/api/parts/{whole.pk}/{what}", place(59.5))
    assert refused.status_code == 422
    assert "a minute" in refused.json()["detail"]
    assert lengths(whole) == before


@pytest.mark.parametrize("what", ["split", "boundary"])
def test_a_place_that_is_left_out_is_asked_for(signed_in, whole, what):
    refused = send(signed_in, "POST", f"/api/parts/{whole.pk}/{what}", {})
    assert refused.status_code == 422
    assert "Say where" in refused.json()["detail"]


@pytest.mark.parametrize("what", ["split", "boundary", "join"])
def test_a_part_of_someone_else_is_not_found(signed_in, what):
    theirs = part(athlete("bo"), minutes=60)
    assert send(signed_in, "POST", f"/api/parts/{theirs.pk}/{what}", place(20)).status_code == 404
    assert lengths(theirs) == [60]
