"""Which file is read next: by lot among the logs that wait, and in a log the oldest.

A wake-up says only that something waits. So three thousand files of one log hold up another's single file
for a few readings and not for three thousand, and a wake-up too many finds nothing and ends.
"""

from __future__ import annotations

import random

from django.db.models import F, QuerySet
from django.utils import timezone

from trainlog.models import Recording
from trainlog.pace import CLAIM, FIRST_CHANCE, unclaimed

MOST_ATTEMPTS = 3

LOOKED_AT = 20
"""Oldest files of a log that are tried in turn, where other workers take them up at the same moment."""

GIVEN_UP = (
    f"Reading this file was begun {MOST_ATTEMPTS} times and never ended: the program ran out of time or "
    "memory, or broke off. Try a shorter export, or read it again after an update."
)


def take_next() -> int | None:
    """Claim a file to read and count the attempt, before it is made.

    Returns
    -------
    int or None
        Key of the recording, claimed by this call and no other; None if nothing waits.
    """
    owners = list(_takeable().order_by().values_list("owner", flat=True).distinct())
    random.shuffle(owners)
    for owner in owners:
        oldest = _takeable().filter(owner=owner).order_by("received_at", "pk")
        for pk in list(oldest.values_list("pk", flat=True)[:LOOKED_AT]):
            taken = _takeable().filter(pk=pk)
            if taken.update(attempts=F("attempts") + 1, claimed_until=timezone.now() + CLAIM):
                return pk
    return None


def is_anything_left() -> bool:
    """Whether a file waits that nobody has taken up."""
    return _takeable().exists()


def overdue() -> int:
    """Files that wait although the wake-up of their upload has had its chance."""
    return _takeable().filter(received_at__lt=timezone.now() - FIRST_CHANCE).count()


def give_up() -> int:
    """Refuse what broke every attempt, with words that a person can read; how many."""
    return (
        _unclaimed()
        .filter(attempts__gte=MOST_ATTEMPTS)
        .update(state=Recording.State.REFUSED, problem=GIVEN_UP, claimed_until=None)
    )


def _unclaimed() -> QuerySet[Recording]:
    return Recording.objects.filter(unclaimed(), state=Recording.State.RECEIVED)


def _takeable() -> QuerySet[Recording]:
    return _unclaimed().filter(attempts__lt=MOST_ATTEMPTS)
