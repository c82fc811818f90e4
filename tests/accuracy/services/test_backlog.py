from datetime import timedelta

import pytest
from django.utils import timezone

from accuracy.models import LearningState, Report
from accuracy.services.backlog import backlog
from accuracy.services.method import METHOD_VERSION
from tests.builders import athlete, part
from trainlog.models import Part
from trainlog.services.backlog import STALE, backlogs

pytestmark = pytest.mark.django_db


def learning():
    return next(work for work in backlog() if work.name == "learning")


def reports():
    return next(work for work in backlog() if work.name == "reports")


@pytest.fixture
def ana():
    """A log of one part, changed twenty minutes ago and learned from half an hour ago."""
    owner = athlete("ana")
    part(owner)
    owner.log_revision = 2
    owner.save()
    Part.objects.update(changed_at=timezone.now() - timedelta(minutes=20))
    LearningState.objects.create(
        owner=owner,
        learned_revision=1,
        learned_method=METHOD_VERSION,
        finished_at=timezone.now() - timedelta(minutes=30),
    )
    return owner


def state(**changes):
    LearningState.objects.update(**changes)


def ask(owner, **values):
    return Report.objects.create(owner=owner, **values)


def test_a_log_waits_to_be_learned_from_since_its_first_change(ana):
    assert learning().waiting == 1
    assert learning().age() == pytest.approx(20 * 60, abs=30)
    assert not learning().is_well()


def test_a_log_that_was_never_learned_from_waits_too(ana):
    LearningState.objects.all().delete()
    assert learning().age() == pytest.approx(20 * 60, abs=30)


def test_a_log_that_was_learned_from_does_not_wait(ana):
    state(learned_revision=2)
    assert (learning().waiting, learning().age(), learning().is_well()) == (0, 0.0, True)


def test_a_newer_method_makes_logs_wait_without_calling_them_late(ana):
    state(learned_revision=2, learned_method=METHOD_VERSION - 1, finished_at=timezone.now())
    assert learning().waiting == 1
    assert learning().is_well()


def test_a_log_whose_learning_broke_off_is_stale(ana):
    state(attempts=1, claimed_until=timezone.now() - STALE - timedelta(seconds=1))
    assert learning().stale == 1


def test_a_log_that_was_given_up_has_failed_and_waits_no_more(ana):
    state(attempts=3, claimed_until=None)
    assert (learning().waiting, learning().failed, learning().stale) == (0, 1, 0)


def test_a_report_waits_since_it_was_asked_for(ana):
    ask(ana, asked_at=timezone.now() - timedelta(minutes=40))
    ask(ana, state=Report.State.MADE, asked_at=timezone.now() - timedelta(days=4))
    assert reports().waiting == 1
    assert reports().age() == pytest.approx(40 * 60, abs=30)
    assert not reports().is_well()


def test_a_report_whose_worker_died_is_stale_and_one_given_up_has_failed(ana):
    ask(ana, claimed_until=timezone.now() - STALE - timedelta(seconds=1), attempts=1)
    ask(ana, state=Report.State.FAILED)
    assert (reports().stale, reports().failed) == (1, 1)


def test_every_kind_of_work_is_asked_for(ana):
    assert [work.name for work in backlogs()] == ["files", "learning", "reports"]
