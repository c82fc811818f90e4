"""What waits for a worker: since when, and what was taken up and never ended."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import chain
from typing import Any

from django.db.models import Count, Min, Q
from django.utils import timezone

from trainlog.models import Recording
from trainlog.signals import backlog_asked

FILE_WAITS_TOO_LONG = timedelta(minutes=15)
"""A large import takes its time; by this one something is wrong, or more workers are wanted."""

STALE = timedelta(minutes=3)
"""How long after its claim ran out work may still lie there; the sweep comes by every few seconds."""


@dataclass(frozen=True)
class Backlog:
    """One kind of work that waits.

    Attributes
    ----------
    name : str
    waiting : int
        Pieces that wait or are being worked at.
    oldest_at : datetime or None
        Since when the oldest waits; None if none does.
    too_long : timedelta
        Waiting for longer than this is not well.
    stale : int
        Pieces that somebody took up and never ended, and that nobody took up since.
    failed : int
        Pieces that were given up, until something about them changes.
    """

    name: str
    waiting: int
    oldest_at: datetime | None
    too_long: timedelta
    stale: int = 0
    failed: int = 0

    def age(self, at_most: float = float("inf")) -> float:
        """Seconds for which the oldest has waited.

        Parameters
        ----------
        at_most : float
            Seconds; who has only just started is not to blame for what waited before.
        """
        if self.oldest_at is None:
            return 0.0
        return min(max((timezone.now() - self.oldest_at).total_seconds(), 0.0), at_most)

    def is_well(self, at_most: float = float("inf")) -> bool:
        """Whether nothing waits for too long or lies there taken up and left."""
        return self.age(at_most) <= self.too_long.total_seconds() and not (
            self.stale and at_most > STALE.total_seconds()
        )


def stale_claim() -> Q:
    """Rows whose claim ran out a while ago."""
    return Q(claimed_until__lt=timezone.now() - STALE)


def backlogs() -> list[Backlog]:
    """Every kind of work: files to read, and what other apps answer."""
    answers: list[tuple[Any, Any]] = backlog_asked.send(sender=Backlog)
    return [_files(), *chain.from_iterable(told for _, told in answers)]


def _files() -> Backlog:
    row = Recording.objects.filter(state=Recording.State.RECEIVED).aggregate(
        waiting=Count("pk"), oldest=Min("received_at"), stale=Count("pk", filter=stale_claim())
    )
    return Backlog("files", row["waiting"], row["oldest"], FILE_WAITS_TOO_LONG, row["stale"])
