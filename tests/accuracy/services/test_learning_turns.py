"""When a log is learned from, and by whom."""

from datetime import timedelta

import pytest
from django.utils import timezone

from accuracy import tasks
from accuracy.models import LearningState
from accuracy.services.learn import learn
from accuracy.services.stale import unlearned
from tests import builders
from tests.accuracy.session_builders import session
from tests.builders import waiting
from trainlog.models import LoadEstimate, Recording

pytestmark = pytest.mark.django_db


@pytest.fixture
def ana():
    return builders.equipped_athlete("ana", strap="Strap", wrist="Wrist")


def test_a_second_worker_leaves_a_log_to_the_one_that_is_at_it(ana):
    session(ana, 0, strap=140)
    LearningState.objects.create(owner=ana, claimed_until=timezone.now() + timedelta(minutes=1))
    assert learn(ana)
    assert not LoadEstimate.objects.exists()


def test_a_lease_from_before_the_clock_was_set_back_is_taken_over(ana):
    session(ana, 0, strap=140)
    LearningState.objects.create(owner=ana, claimed_until=timezone.now() + timedelta(hours=1))
    assert list(unlearned()) == [ana]
    learn(ana)
    assert LoadEstimate.objects.exists()


def test_a_lease_that_ran_out_is_taken_over(ana):
    session(ana, 0, strap=140)
    LearningState.objects.create(owner=ana, claimed_until=timezone.now() - timedelta(seconds=1))
    learn(ana)
    assert LoadEstimate.objects.exists()


def test_the_sweep_finds_a_changed_log_and_leaves_a_learned_one(ana):
    session(ana, 0, strap=140)
    assert list(unlearned()) == [ana]
    learn(ana)
    assert list(unlearned()) == []


def test_a_wake_up_too_many_learns_nothing_anew(ana, monkeypatch):
    session(ana, 0, strap=140)
    learn(ana)
    monkeypatch.setattr(tasks, "learn", lambda athlete: pytest.fail("it was learned already"))
    tasks.learn_athlete(ana.pk)


def test_a_log_that_was_just_learned_from_waits_for_the_files_that_are_being_read(ana, monkeypatch):
    session(ana, 0, strap=140)
    learn(ana)
    session(ana, 1, strap=150)
    waiting(ana)
    asked = []
    monkeypatch.setattr(tasks, "learn", lambda athlete: asked.append(athlete) or True)
    tasks.learn_athlete(ana.pk)
    assert asked == []
    Recording.objects.of(ana).filter(state="received").update(state="refused")
    tasks.learn_athlete(ana.pk)
    assert asked == [ana]
