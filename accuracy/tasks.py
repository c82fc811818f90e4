"""Background work of accuracy: woken when a log has changed, and by the sweep."""

from __future__ import annotations

from typing import Any

from celery import shared_task
from django.dispatch import receiver

from accuracy.models import LearningState
from accuracy.services.learn import learn
from accuracy.services.reports import LONGEST, MAKE_TASK, unmade
from accuracy.services.stale import had_better_wait, is_learned, unlearned
from trainlog.models import Athlete
from trainlog.services.demo import unfinished_demos
from trainlog.services.wake import wake
from trainlog.signals import log_has_changed, log_swept

LEARN_TASK = "accuracy.tasks.learn_athlete"


@shared_task(name=LEARN_TASK)
def learn_athlete(athlete_id: int) -> None:
    """Bring an athlete's estimates up to date; goes on in a further task when time is up."""
    athlete = Athlete.objects.filter(pk=athlete_id).first()
    if athlete is None or is_learned(athlete) or had_better_wait(athlete):
        return
    if not learn(athlete):
        wake(LEARN_TASK, athlete_id)


# Longer than the queue waits before it sends a task to another worker, so it is taken off the queue as it
# begins: a report whose worker dies is found by the sweep once its claim is over.
@shared_task(name=MAKE_TASK, acks_late=False, time_limit=LONGEST)
def make_report(report_id: int) -> None:
    """Make a report that waits, unless it was made or somebody is at it."""
    from accuracy.report import make  # noqa: PLC0415  (the web process imports this module, and draws nothing)

    make.make_report(report_id)


@receiver(log_has_changed)
def wake_learning(athlete_id: int, **_: Any) -> None:
    """A changed log deserves a new try, whatever failed before; one that is being made waits till it is."""
    if unfinished_demos().filter(pk=athlete_id).exists():
        return
    LearningState.objects.filter(owner_id=athlete_id).update(attempts=0)
    wake(LEARN_TASK, athlete_id)


@receiver(log_swept)
def wake_unlearned(**_: Any) -> None:
    """Wake learning for every log that nobody has taken up."""
    for athlete in unlearned():
        wake(LEARN_TASK, athlete.pk)


@receiver(log_swept)
def wake_unmade(**_: Any) -> None:
    """Wake a worker for every report that nobody has taken up."""
    for report_id in unmade():
        wake(MAKE_TASK, report_id)
