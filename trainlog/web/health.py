"""How the installation is: one page for who sends requests here, one for who looks after it."""

from __future__ import annotations

import time

from django.contrib.auth.decorators import login_not_required
from django.db import DatabaseError
from django.http import HttpRequest, JsonResponse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from trainlog.models import SweepRun
from trainlog.services.answering import database_answers, queue_answers, tables_are_there
from trainlog.services.backlog import backlogs
from trainlog.services.progress import LATE

_began = time.monotonic()

KINDS = ("files", "learning", "reports")


@require_safe
@never_cache
@login_not_required
def ready(request: HttpRequest) -> JsonResponse:
    """Answer 200 if this process can answer pages, and 503 if not.

    That takes the database with its tables. Without the queue pages go on, and files are taken in.
    """
    answers = database_answers()
    return _answer({"database": {"ok": answers}, "tables": {"ok": answers and tables_are_there()}})


@require_safe
@never_cache
@login_not_required
def health(request: HttpRequest) -> JsonResponse:
    """Answer 200 if the whole installation works and 503 if not, with what was found.

    Anyone may ask; the answer names no one, counts nothing and tells no version.
    """
    return _answer(
        {
            "database": {"ok": database_answers()},
            "queue": {"ok": queue_answers()},
            "sweep": _sweep(),
            **_work(),
        }
    )


def _answer(found: dict[str, dict[str, object]]) -> JsonResponse:
    well = all(part["ok"] for part in found.values())
    return JsonResponse({"ok": well, **found}, status=200 if well else 503)


def _sweep() -> dict[str, object]:
    """Give the last sweep's age; an installation that has only just started is not yet late."""
    try:
        last = SweepRun.last()
    except DatabaseError:
        return {"ok": False, "seconds_ago": None}
    ago = (timezone.now() - last.ended_at).total_seconds() if last else None
    late = min(_up(), float("inf") if ago is None else ago)
    return {"ok": late < LATE.total_seconds(), "seconds_ago": None if ago is None else round(ago)}


def _work() -> dict[str, dict[str, object]]:
    """For each kind of work, how long the oldest has waited; what waited before the start is given time."""
    try:
        found = backlogs()
    except DatabaseError:
        return {kind: {"ok": False, "oldest_seconds": None} for kind in KINDS}
    return {
        work.name: {"ok": work.is_well(at_most=_up()), "oldest_seconds": round(work.age())} for work in found
    }


def _up() -> float:
    return time.monotonic() - _began
