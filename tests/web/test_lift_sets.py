from datetime import timedelta

import pytest

from tests.builders import MORNING, athlete, estimate, part
from trainlog.models import LiftSet
from trainlog.services.lift_sets import add_set

pytestmark = pytest.mark.django_db

SQUAT = {"exercise": "squat", "sets": 3, "repetitions": 5, "kilograms": 100.0, "rpe": 8.0}
HTMX = {"HX-Request": "true"}


@pytest.fixture
def ana(client):
    owner = athlete()
    client.force_login(owner.user)
    return owner


@pytest.fixture
def lifted(ana):
    return part(ana, activity="lifting")


def page(client, lifted):
    return client.get(f"/workouts/{lifted.workout_id}").content.decode()


def test_a_part_of_lifting_asks_for_sets_and_a_run_does_not(client, ana, lifted):
    assert "Add sets" in page(client, lifted)
    assert "Add sets" not in page(client, part(ana, MORNING + timedelta(days=1)))


def test_sets_stay_where_the_activity_was_changed(client, ana):
    run = part(ana)
    add_set(run, SQUAT)
    assert "squat" in page(client, run)


def test_a_line_is_added_and_summed(client, ana, lifted):
    answer = client.post(f"/parts/{lifted.pk}/sets", SQUAT)
    assert answer["Location"] == f"/workouts/{lifted.workout_id}#sets-{lifted.pk}"
    client.post(f"/parts/{lifted.pk}/sets", {"exercise": "pull-up", "sets": 4, "repetitions": 6})
    shown = page(client, lifted)
    assert "1500 kg" in shown
    assert "4 with the body alone: counted, not weighed" in shown
    assert "not mixed into it" in shown


def test_the_next_line_remembers_exercise_and_load_and_asks_how_hard_it_was(client, lifted):
    add_set(lifted, SQUAT)
    shown = page(client, lifted)
    assert 'name="exercise" value="squat"' in shown
    assert 'name="kilograms" value="100"' in shown
    assert 'name="rpe" value' not in shown


def test_own_exercises_are_offered(client, ana, lifted):
    add_set(part(ana, MORNING + timedelta(days=1)), SQUAT)
    assert '<option value="squat">' in page(client, lifted)


def test_a_line_is_opened_changed_and_removed(client, lifted):
    row = add_set(lifted, SQUAT)
    assert "Delete this line" in client.get(f"/sets/{row.pk}").content.decode()
    client.post(f"/sets/{row.pk}", SQUAT | {"kilograms": "", "rpe": ""})
    row.refresh_from_db()
    assert (row.kilograms, row.rpe) == (None, None)
    client.post(f"/sets/{row.pk}/delete")
    assert not LiftSet.objects.exists()


def test_htmx_gets_the_table_alone(client, lifted):
    shown = client.post(f"/parts/{lifted.pk}/sets", SQUAT, headers=HTMX).content.decode()
    assert shown.lstrip().startswith("<section")
    assert "<html" not in shown
    row = LiftSet.objects.get()
    assert "Delete this line" in client.get(f"/sets/{row.pk}", headers=HTMX).content.decode()


def test_the_table_goes_with_the_last_line_of_a_run(client, ana):
    row = add_set(part(ana), SQUAT)
    left = client.post(f"/sets/{row.pk}/delete", headers=HTMX).content.decode()
    assert "Deleted: 3 × 5" in left
    assert "<table" not in left


@pytest.mark.parametrize("headers", [{}, HTMX], ids=["page", "htmx"])
def test_what_nobody_lifts_is_explained_beside_the_field(client, lifted, headers):
    wrong = client.post(f"/parts/{lifted.pk}/sets", SQUAT | {"repetitions": 0}, headers=headers)
    assert wrong.status_code == 422
    assert f'id="add{lifted.pk}_repetitions_error"' in wrong.content.decode()
    row = add_set(lifted, SQUAT)
    wrong = client.post(f"/sets/{row.pk}", SQUAT | {"exercise": " "}, headers=headers)
    assert wrong.status_code == 422
    assert f'id="set{row.pk}_exercise_error"' in wrong.content.decode()
    assert LiftSet.objects.get().exercise == "squat"


def test_sets_of_others_are_not_found(client, ana):
    theirs = part(athlete("bo"), activity="lifting")
    row = add_set(theirs, SQUAT)
    for answer in (
        client.post(f"/parts/{theirs.pk}/sets", SQUAT),
        client.get(f"/sets/{row.pk}"),
        client.post(f"/sets/{row.pk}", SQUAT),
        client.post(f"/sets/{row.pk}/delete"),
    ):
        assert answer.status_code == 404
    assert LiftSet.objects.count() == 1


def test_the_week_tells_what_was_lifted_beside_its_load(client, lifted):
    estimate(lifted, 50.0)
    assert "Lifted" not in client.get("/week/2026-03-04").content.decode()
    add_set(lifted, SQUAT)
    shown = client.get("/week/2026-03-04").content.decode()
    assert "1500 kg" in shown
    assert "3 sets" in shown
