import pytest
from django.core.exceptions import ValidationError

from tests.builders import MORNING, athlete, part
from trainlog.models import LiftSet
from trainlog.services.edit_workout import join_with_next, split_part
from trainlog.services.lift_sets import (
    add_set,
    change_set,
    delete_set,
    exercises_of,
    sums_between,
    sums_by_exercise,
    sums_of,
)

pytestmark = pytest.mark.django_db

DAY = MORNING.date()


@pytest.fixture
def lifted(ana):
    return part(ana, activity="lifting")


def said(exercise="squat", sets=3, repetitions=5, kilograms=100.0, rpe=None):
    return {
        "exercise": exercise,
        "sets": sets,
        "repetitions": repetitions,
        "kilograms": kilograms,
        "rpe": rpe,
    }


def rows(of):
    return list(LiftSet.objects.of(of.owner).filter(part=of).order_by("place"))


def test_lines_stand_in_the_order_in_which_they_were_added(lifted):
    first = add_set(lifted, said("squat"))
    add_set(lifted, said("press"))
    delete_set(first)
    add_set(lifted, said("row"))
    assert [row.exercise for row in rows(lifted)] == ["press", "row"]


def test_the_sum_of_bodyweight_sets_is_counted_and_not_weighed(lifted):
    add_set(lifted, said("squat", 3, 5, 100))
    add_set(lifted, said("pull-up", 4, 6, None))
    whole = sums_of(rows(lifted))
    assert (whole.sets, whole.repetitions, whole.tonnage, whole.bodyweight_sets) == (7, 39, 1500, 4)


def test_without_a_weighed_set_there_is_no_tonnage(lifted):
    add_set(lifted, said("pull-up", 4, 6, None))
    assert sums_of(rows(lifted)).tonnage is None


def test_sums_by_exercise_add_up_to_the_whole(lifted):
    for line in (said("squat", 2, 5, 60), said("press", 3, 8, 40), said("squat", 3, 5, 100)):
        add_set(lifted, line)
    squat, press = sums_by_exercise(rows(lifted))
    assert (squat.exercise, squat.sets, squat.tonnage) == ("squat", 5, 600 + 1500)
    assert (press.exercise, press.sets, press.tonnage) == ("press", 3, 960)
    assert squat.tonnage + press.tonnage == sums_of(rows(lifted)).tonnage


def test_the_sums_of_days_are_those_of_their_lines(ana, lifted):
    add_set(lifted, said("squat", 3, 5, 100))
    add_set(lifted, said("pull-up", 4, 6, None))
    add_set(part(ana, MORNING.replace(day=20), activity="lifting"), said("squat", 9, 9, 90))
    assert sums_between(ana, DAY, DAY) == sums_of(rows(lifted))
    assert sums_between(ana, DAY.replace(day=10), DAY.replace(day=11)) is None


def test_an_exercise_in_another_case_is_the_one_that_is_there(ana, lifted):
    add_set(lifted, said("Front  squat"))
    add_set(lifted, said("front squat"))
    assert exercises_of(ana) == ["Front squat"]


def test_the_last_used_exercise_is_offered_first_and_no_one_elses(ana, lifted):
    for exercise in ("squat", "press", "squat"):
        add_set(lifted, said(exercise))
    add_set(part(athlete("bo")), said("curl"))
    assert exercises_of(ana) == ["squat", "press"]


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"exercise": " "}, "Name the exercise"),
        ({"exercise": "x" * 61}, "at most 60 characters"),
        ({"sets": 0}, "1 to 100 sets"),
        ({"sets": None}, "how many sets"),
        ({"repetitions": None}, "how many repetitions"),
        ({"repetitions": 10**30}, "1 to 1000 repetitions"),
        ({"kilograms": -1}, "between 0 and 1000 kg"),
        ({"kilograms": float("nan")}, "between 0 and 1000 kg"),
        ({"kilograms": float("inf")}, "between 0 and 1000 kg"),
        ({"rpe": 11}, "between 0 and 10"),
    ],
)
def test_what_nobody_lifts_is_refused(lifted, wrong, words):
    with pytest.raises(ValidationError, match=words):
        add_set(lifted, said() | wrong)
    kept = add_set(lifted, said())
    with pytest.raises(ValidationError, match=words):
        change_set(kept, wrong)
    assert [(row.exercise, row.kilograms, row.rpe) for row in rows(lifted)] == [("squat", 100, None)]


def test_what_is_left_out_of_a_change_stays(lifted):
    row = add_set(lifted, said(rpe=8))
    change_set(row, {"kilograms": None})
    row.refresh_from_db()
    assert (row.exercise, row.repetitions, row.kilograms, row.rpe) == ("squat", 5, None, 8)


def test_no_estimate_depends_on_a_set(ana, lifted):
    delete_set(change_set(add_set(lifted, said()), {"sets": 4}))
    lifted.refresh_from_db()
    ana.refresh_from_db()
    assert (lifted.input_revision, ana.log_revision) == (1, 0)


def test_joining_parts_keeps_the_sets_of_both(lifted):
    later = split_part(lifted, MORNING.replace(hour=7, minute=0))
    add_set(lifted, said("squat"))
    add_set(later, said("press"))
    add_set(later, said("row"))
    join_with_next(lifted)
    assert [row.exercise for row in rows(lifted)] == ["squat", "press", "row"]
