"""Logs that wait to be learned from, and reports that wait to be made."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

from django.db.models import Count, DateTimeField, F, Min, OuterRef, Q, Subquery, Value
from django.db.models.functions import Coalesce

from accuracy.models import LearningState, Report
from accuracy.services.stale import MOST_ATTEMPTS, unlearned
from trainlog.models import Part
from trainlog.services.backlog import Backlog, stale_claim

LOG_WAITS_TOO_LONG = timedelta(minutes=15)
"""In less, even a large log is learned from."""

REPORT_WAITS_TOO_LONG = timedelta(minutes=30)
"""Reports are made one at a time, and each may take five minutes."""

_LONG_AGO = datetime(1970, 1, 1, tzinfo=UTC)


def backlog(**_: Any) -> list[Backlog]:
    """Answer how much of each waits, since when, and what was given up."""
    return [_learning(), _reports()]


def _learning() -> Backlog:
    """Logs changed since they were last learned from.

    The oldest is the first change since then. A log that waits only because the method is newer has none: it
    is as old as the update, which nothing notes.
    """
    waiting = unlearned()
    ended = LearningState.objects.filter(owner=OuterRef("owner")).values("finished_at")
    changed = Part.objects.filter(
        owner__in=waiting,
        changed_at__gt=Coalesce(Subquery(ended), Value(_LONG_AGO), output_field=DateTimeField()),
    )
    behind = Q(learned_revision__lt=F("owner__log_revision"))
    states = LearningState.objects.filter(behind).aggregate(
        stale=Count("pk", filter=stale_claim() & Q(attempts__lt=MOST_ATTEMPTS)),
        failed=Count("pk", filter=Q(attempts__gte=MOST_ATTEMPTS)),
    )
    oldest = changed.aggregate(oldest=Min("changed_at"))["oldest"]
    return Backlog("learning", waiting.count(), oldest, LOG_WAITS_TOO_LONG, states["stale"], states["failed"])


def _reports() -> Backlog:
    row = Report.objects.aggregate(
        waiting=Count("pk", filter=Q(state=Report.State.WAITING)),
        oldest=Min("asked_at", filter=Q(state=Report.State.WAITING)),
        stale=Count("pk", filter=Q(state=Report.State.WAITING) & stale_claim()),
        failed=Count("pk", filter=Q(state=Report.State.FAILED)),
    )
    return Backlog(
        "reports", row["waiting"], row["oldest"], REPORT_WAITS_TOO_LONG, row["stale"], row["failed"]
    )
