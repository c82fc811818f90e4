"""The regular sweep: finds what nobody has taken up, and gives up what breaks every time."""

from __future__ import annotations

from datetime import timedelta

from django.db.models import F, Q, QuerySet
from django.utils import timezone

from trainlog.models import Recording, SweepRun
from trainlog.services.import_files import READ_TASK
from trainlog.services.wake import wake
from trainlog.signals import log_swept

MOST_ATTEMPTS = 3
FIRST_CHANCE = timedelta(seconds=15)
"""How long the wake-up sent at the upload has before the sweep sends another."""
CLAIM = timedelta(seconds=90)
"""How long nobody else is woken: longer than a task's time limit, so that no reading is broken off by it."""
AT_ONCE = 500
"""Recordings that one sweep wakes workers for; the next ones follow with the next sweep."""

GIVEN_UP = (
    f"Reading this file was begun {MOST_ATTEMPTS} times and never ended: the program ran out of time or "
    "memory, or broke off. Try a shorter export, or read it again after an update."
)


def sweep() -> SweepRun:
    """Wake workers for recordings that wait unread, have every app look for its own, and note the run."""
    given_up = _give_up()
    woken = sum(wake(READ_TASK, recording_id) for recording_id in _claim())
    log_swept.send_robust(sender=SweepRun)
    run, _ = SweepRun.objects.update_or_create(
        pk=SweepRun.THE_ONE, defaults={"ended_at": timezone.now(), "woken": woken, "given_up": given_up}
    )
    return run


def begin_reading(recording_id: int) -> bool:
    """Count an attempt at reading a recording, before it is made.

    The worker counts, not the sweep: a file that waits behind a thousand others has not failed.

    Returns
    -------
    bool
        Whether to go on: not if the recording was read already, or broke every attempt so far.
    """
    begun = Recording.objects.filter(
        pk=recording_id, state=Recording.State.RECEIVED, attempts__lt=MOST_ATTEMPTS
    ).update(attempts=F("attempts") + 1, claimed_until=timezone.now() + CLAIM)
    return begun == 1


def _unclaimed() -> QuerySet[Recording]:
    now = timezone.now()
    return Recording.objects.filter(
        Q(claimed_until__lt=now) | Q(claimed_until__isnull=True, received_at__lt=now - FIRST_CHANCE),
        state=Recording.State.RECEIVED,
    )


def _give_up() -> int:
    return (
        _unclaimed()
        .filter(attempts__gte=MOST_ATTEMPTS)
        .update(state=Recording.State.REFUSED, problem=GIVEN_UP, claimed_until=None)
    )


def _claim() -> list[int]:
    """Ids of unclaimed recordings, each now claimed by this sweep and no other."""
    until = timezone.now() + CLAIM
    waiting = _unclaimed().order_by("pk").values_list("pk", flat=True)[:AT_ONCE]
    return [pk for pk in list(waiting) if _unclaimed().filter(pk=pk).update(claimed_until=until)]
