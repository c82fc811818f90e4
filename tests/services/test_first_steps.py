from datetime import timedelta

import pytest
from django.utils import timezone

from tests.builders import MORNING, athlete, csv_file, equipped_athlete, imported, part
from trainlog.models import Recording
from trainlog.services.first_steps import FEW_WORKOUTS, first_steps, pair_is_news

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("data_folder")]


@pytest.fixture
def ana():
    return equipped_athlete("ana", strap="belt", wrist="left")


def add(owner, device, day=0):
    return imported(owner, csv_file(MORNING + timedelta(days=day), device=device), f"{day} {device}.csv")


def test_an_empty_log_begins_with_who_one_is():
    steps = first_steps(athlete("ben"))
    assert (steps.next, steps.any_workout, steps.lone) == (1, False, None)


def test_with_physiology_a_session_twice_comes_next(ana):
    assert first_steps(ana).next == 2


@pytest.mark.parametrize(("device", "is_reference"), [("strap", True), ("wrist", False)])
def test_after_one_file_of_a_session_the_other_is_said_to_be_missing(ana, device, is_reference):
    recording = add(ana, device)
    steps = first_steps(ana)
    assert (steps.lone, steps.lone_is_reference) == (recording.workout, is_reference)


def test_a_file_whose_sensor_is_not_known_is_asked_about_first(ana):
    add(ana, "stranger")
    assert first_steps(ana).unnamed


def test_a_session_with_both_ends_the_steps(ana):
    add(ana, "strap")
    add(ana, "wrist")
    assert first_steps(ana) is None


def test_a_pair_without_physiology_leaves_the_first_step_to_do():
    ben = equipped_athlete("ben", strap="belt", wrist="left")
    ben.physiology().rows[0].delete()
    add(ben, "strap")
    add(ben, "wrist")
    steps = first_steps(ben)
    assert (steps.next, steps.paired) == (1, True)


def test_many_workouts_without_a_pair_need_no_first_steps(ana):
    for day in range(FEW_WORKOUTS):
        part(ana, MORNING + timedelta(days=day))
    assert first_steps(ana) is not None
    part(ana, MORNING + timedelta(days=FEW_WORKOUTS))
    assert first_steps(ana) is None


def test_two_sessions_with_one_sensor_each_are_no_pair_and_no_news(ana):
    add(ana, "strap", day=0)
    add(ana, "wrist", day=1)
    assert first_steps(ana).lone is not None
    assert not pair_is_news(ana)


def test_a_first_pair_is_news_for_a_day(ana):
    for device in ("strap", "wrist"):
        add(ana, device)
    assert pair_is_news(ana)
    Recording.objects.update(received_at=timezone.now() - timedelta(days=2))
    assert not pair_is_news(ana)
    for device in ("strap", "wrist"):
        add(ana, device, day=1)
    assert not pair_is_news(ana)


def test_of_many_pairs_that_came_at_once_none_is_news(ana):
    for day in range(FEW_WORKOUTS + 1):
        for device in ("strap", "wrist"):
            add(ana, device, day=day)
    assert not pair_is_news(ana)


@pytest.mark.parametrize(("older", "newer"), [("wrist", "strap"), ("strap", "wrist")])
def test_a_file_that_completes_an_older_session_makes_news(ana, older, newer):
    add(ana, older)
    Recording.objects.update(received_at=timezone.now() - timedelta(days=2))
    add(ana, newer)
    assert pair_is_news(ana)
