"""How long a piece of work may take, and how soon what was lost is looked for."""

from __future__ import annotations

from datetime import timedelta

from django.conf import settings
from django.db.models import Q
from django.utils import timezone

LONGEST_TASK: float = settings.LONGEST_TASK
"""Seconds that one task should take; a longer job goes on in a further task."""

TIME_LIMIT = LONGEST_TASK * 5 / 3
"""Seconds after which a task is broken off."""

VISIBILITY = 2 * LONGEST_TASK
"""Seconds after which the queue hands out again what a worker took and never finished."""

CLAIM = timedelta(seconds=3 * LONGEST_TASK)
"""How long whoever took work up has it to itself: longer than a task can last."""

SWEEP_EVERY: float = settings.SWEEP_EVERY
"""Seconds from one sweep to the next."""

FIRST_CHANCE = timedelta(seconds=SWEEP_EVERY * 3 / 4)
"""How long the wake-up sent at an upload has before the sweep sends another."""


def unclaimed(longest: timedelta = CLAIM) -> Q:
    """Rows that nobody has to itself: never claimed, the claim ran out, or it reaches further than any can.

    The last are claims made before the clock was set back. A claim of a machine whose clock is ahead of this
    one's reaches a little further than one of its own, and holds.

    Parameters
    ----------
    longest : timedelta
        How long a claim is, of this kind of row.
    """
    now = timezone.now()
    return Q(claimed_until=None) | Q(claimed_until__lt=now) | Q(claimed_until__gt=now + 2 * longest)
