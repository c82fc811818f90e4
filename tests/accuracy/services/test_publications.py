"""Programs that follow the estimates are told when those on show changed, and of how many parts."""

from datetime import timedelta

import pytest
from django.test import Client
from django.utils import timezone

from accuracy.services.learn import learn
from tests import builders
from tests.accuracy.session_builders import FIRST_DAY, session
from trainlog.models import Publication, Recording, Workout
from trainlog.services.edit_workout import set_note, set_session_rpe
from trainlog.services.sweep import sweep
from trainlog.services.tokens import make_token

pytestmark = pytest.mark.django_db


@pytest.fixture
def ana():
    return builders.equipped_athlete("ana", strap="Strap", wrist="Wrist")


def told_since(owner, known):
    secret = make_token(owner, "follower", "read", 30).secret
    client = Client(headers={"Authorization": f"Bearer {secret}"})
    return client.get("/api/v1/publications", {"after": known}).json()


def last():
    return Publication.objects.latest("pk").pk


def day(number):
    return (FIRST_DAY + timedelta(days=number)).isoformat()[:10]


def test_the_first_estimates_are_told_with_their_first_day(ana):
    for number in (3, 1, 2):
        session(ana, number, wrist=125)
    learn(ana)
    told = told_since(ana, 0)
    assert sum(one["parts"] for one in told) == 3
    assert min(one["first_day"] for one in told) == day(1)


def test_learning_again_from_an_unchanged_log_tells_nothing(ana):
    session(ana, 0, wrist=125)
    learn(ana)
    known = last()
    learn(ana)
    set_note(Workout.objects.get(), "a note")
    learn(ana)
    assert told_since(ana, known) == []


def test_a_new_session_is_told_alone_where_the_others_stay_as_they_are(ana):
    session(ana, 0, wrist=125)
    learn(ana)
    known = last()
    session(ana, 4, wrist=131)
    learn(ana)
    (told,) = told_since(ana, known)
    assert (told["parts"], told["first_day"]) == (1, day(4))


def test_a_first_pair_is_told_with_every_part_whose_load_it_moves(ana):
    session(ana, 0, wrist=125)
    learn(ana)
    known = last()
    session(ana, 5, strap=150, wrist=131)
    learn(ana)
    told = told_since(ana, known)
    assert sum(one["parts"] for one in told) == 2
    assert min(one["first_day"] for one in told) == day(0)


def test_a_rating_that_moves_a_load_on_show_is_told(ana):
    made = builders.part(ana)
    learn(ana)
    known = last()
    set_session_rpe(made, 7)
    learn(ana)
    assert [one["parts"] for one in told_since(ana, known)] == [1]
    assert not Recording.objects.exists()


def test_changes_are_told_to_their_owner_alone_and_kept_for_ninety_days(ana):
    session(ana, 0, wrist=125)
    learn(ana)
    assert told_since(builders.athlete("ben"), 0) == []
    sweep()
    assert Publication.objects.exists()
    Publication.objects.update(published_at=timezone.now() - timedelta(days=90))
    sweep()
    assert not Publication.objects.exists()
