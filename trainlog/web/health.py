"""Whether the installation works: its database, its queue, its sweep."""

from __future__ import annotations

import time

from django.contrib.auth.decorators import login_not_required
from django.db import DatabaseError
from django.http import HttpRequest, JsonResponse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from trainlog.models import SweepRun
from trainlog.services.answering import database_answers, queue_answers
from trainlog.services.progress import LATE

_began = time.monotonic()


@require_safe
@never_cache
@login_not_required
def health(request: HttpRequest) -> JsonResponse:
    """Answer 200 if everything works and 503 if not, with what was found.

    Anyone may ask; the answer names no one and tells no version.
    """
    found: dict[str, dict[str, object]] = {
        "database": {"ok": database_answers()},
        "queue": {"ok": queue_answers()},
        "sweep": _sweep(),
    }
    well = all(part["ok"] for part in found.values())
    return JsonResponse({"ok": well, **found}, status=200 if well else 503)


def _sweep() -> dict[str, object]:
    """Give the last sweep's age; an installation that has only just started is not yet late."""
    try:
        last = SweepRun.last()
    except DatabaseError:
        return {"ok": False, "seconds_ago": None}
    ago = (timezone.now() - last.ended_at).total_seconds() if last else None
    late = min(time.monotonic() - _began, float("inf") if ago is None else ago)
    return {"ok": late < LATE.total_seconds(), "seconds_ago": None if ago is None else round(ago)}
