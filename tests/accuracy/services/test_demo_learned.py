import pytest
from django.contrib.auth import get_user_model
from django.utils import timezone

from accuracy import tasks
from accuracy.services.stale import unlearned
from tests.builders import athlete
from trainlog.models import Athlete
from trainlog.services.demo import ask_for_demo

pytestmark = pytest.mark.django_db


def test_a_demo_is_learned_from_once_all_of_it_is_there_and_not_before(monkeypatch):
    woken = []
    monkeypatch.setattr(tasks, "wake", lambda *what: woken.append(what))
    demo = ask_for_demo(athlete("ana").user)
    Athlete.objects.filter(pk=demo.pk).update(log_revision=1)
    tasks.wake_learning(demo.pk)
    assert demo not in unlearned()
    assert woken == []
    get_user_model().objects.filter(pk=demo.user_id).update(last_login=timezone.now())
    tasks.wake_learning(demo.pk)
    assert demo in unlearned()
    assert woken == [(tasks.LEARN_TASK, demo.pk)]
