"""What the look at an installation finds of learning."""

from __future__ import annotations

from typing import Any

from django.db.models import F
from django.utils import timezone

from accuracy.models import LearningState
from accuracy.services.backlog import LOG_WAITS_TOO_LONG
from accuracy.services.stale import MOST_ATTEMPTS, stale, unlearned
from trainlog.keeping.findings import Finding


def examined(**_: Any) -> list[Finding]:
    """Logs whose learning failed, and logs that have waited for it too long."""
    failed = LearningState.objects.filter(
        attempts__gte=MOST_ATTEMPTS, learned_revision__lt=F("owner__log_revision")
    ).count()
    if failed:
        return [
            Finding(
                "learning",
                f"it failed {MOST_ATTEMPTS} times for {_logs(failed)}; their loads are out of date.",
                "What the workers wrote to their log says why; a change of the log tries again.",
            )
        ]
    waiting = list(unlearned())
    since = timezone.now() - LOG_WAITS_TOO_LONG
    minutes = LOG_WAITS_TOO_LONG.seconds // 60
    late = sum(stale(athlete).filter(changed_at__lt=since).exists() for athlete in waiting)
    if late:
        return [
            Finding(
                "learning",
                f"loads of {_logs(late)} have been out of date for more than {minutes} minutes.",
                "See that a worker runs; after a start or an update, give it some minutes.",
            )
        ]
    return [
        Finding("learning", f"{_logs(len(waiting))} about to be learned from" if waiting else "up to date")
    ]


def _logs(count: int) -> str:
    return "one log" if count == 1 else f"{count} logs"
