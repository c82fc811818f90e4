import pytest

from tests.builders import athlete, part, send
from trainlog.models import LiftSet

pytestmark = pytest.mark.django_db

SQUAT = {"exercise": "squat", "sets": 3, "repetitions": 5, "kilograms": 100.0, "rpe": 8.0}


@pytest.fixture
def lifted(ana):
    return part(ana, activity="lifting")


def add(signed_in, lifted, **said):
    return send(signed_in, "POST", f"/api/parts/{lifted.pk}/sets", said)


def test_sets_are_added_and_listed_in_their_order(signed_in, lifted):
    made = add(signed_in, lifted, **SQUAT)
    add(signed_in, lifted, exercise="pull-up", repetitions=6)
    assert made.status_code == 201
    assert made.json() == SQUAT | {"id": made.json()["id"], "part": lifted.pk, "tonnage": 1500}
    first, second = signed_in.get(f"/api/parts/{lifted.pk}/sets").json()
    assert first == made.json()
    assert (second["sets"], second["kilograms"], second["tonnage"]) == (1, None, None)


def test_what_is_left_out_of_a_change_stays(signed_in, lifted):
    key = add(signed_in, lifted, **SQUAT).json()["id"]
    changed = send(signed_in, "PATCH", f"/api/sets/{key}", {"kilograms": 102.5, "rpe": None})
    assert changed.json() == SQUAT | {
        "id": key,
        "part": lifted.pk,
        "kilograms": 102.5,
        "rpe": None,
        "tonnage": 1537.5,
    }


def test_a_line_can_be_removed(signed_in, lifted):
    key = add(signed_in, lifted, **SQUAT).json()["id"]
    assert signed_in.delete(f"/api/sets/{key}").status_code == 204
    assert not LiftSet.objects.exists()


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"exercise": " "}, "Name the exercise"),
        ({"repetitions": None}, "how many repetitions"),
        ({"repetitions": 0}, "1 to 1000 repetitions"),
        ({"kilograms": float("nan")}, "between 0 and 1000 kg"),
        ({"rpe": 11}, "rpe"),
        ({"weight": 5}, "weight"),
    ],
)
def test_what_nobody_lifts_is_explained_and_not_kept(signed_in, lifted, wrong, words):
    answer = add(signed_in, lifted, **(SQUAT | wrong))
    assert answer.status_code == 422
    assert words in answer.json()["detail"]
    assert not LiftSet.objects.exists()


def test_sets_of_others_are_not_found(signed_in):
    theirs = part(athlete("bo"), activity="lifting")
    assert signed_in.get(f"/api/parts/{theirs.pk}/sets").status_code == 404
    assert add(signed_in, theirs, **SQUAT).status_code == 404
