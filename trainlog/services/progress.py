"""How far the files of a log are: what waits, what needs an answer, what was just read."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from django.db.models import Exists, OuterRef
from django.utils import timezone

from trainlog.models import Athlete, LoadEstimate, Part, Physiology, Recording, Sensor, SweepRun
from trainlog.pace import SWEEP_EVERY

LATE = timedelta(seconds=4.5 * SWEEP_EVERY)
"""Time without a sweep after which something is wrong with scheduler, sweeper or queue."""

RECENT = timedelta(minutes=15)
"""How long a file that was read without trouble stays in sight."""

MOST_ROWS = 60


def waiting(athlete: Athlete) -> dict[str, Any]:
    """Files to show under the drop zone: waiting, in need of an answer, or just read."""
    since = timezone.now() - RECENT
    rows = (
        Recording.objects.of(athlete)
        .defer("trace_blob", "segments")
        .select_related("sensor", "workout")
        .order_by("-received_at", "-pk")
    )
    refused = list(rows.filter(state=Recording.State.REFUSED)[:MOST_ROWS])
    # One question for each source is enough: the answer holds for all its files.
    unnamed: dict[str, list[Recording]] = {}
    for row in rows.filter(state=Recording.State.READ, sensor=None):
        unnamed.setdefault(row.source_key or row.sha256, []).append(row)
    estimating = 0
    if Physiology.objects.of(athlete).exists():
        # By way of the parts, as in ``lines_of``: by the owner, a database without statistics goes through
        # all estimates for each part.
        shown = LoadEstimate.objects.filter(
            part=OuterRef("pk"),
            measure=athlete.measure,
            source=athlete.current_source,
            input_revision=OuterRef("input_revision"),
        )
        estimating = Part.objects.of(athlete).filter(~Exists(shown), changed_at__gte=since).count()
    swept = SweepRun.last()
    received = rows.filter(state=Recording.State.RECEIVED)
    read = rows.filter(state=Recording.State.READ, received_at__gte=since).exclude(sensor=None)
    return {
        "refused": refused,
        "unnamed": [(alike[0], len(alike) - 1) for alike in list(unnamed.values())[:MOST_ROWS]],
        "received": list(received[:MOST_ROWS]),
        "received_count": received.count(),
        "estimating": estimating,
        "swept_at": swept.ended_at if swept else None,
        "unheard": _unheard(athlete, swept),
        "read": list(read.prefetch_related("workout__parts__activity")[:MOST_ROWS]),
        "read_count": read.count(),
        "sensors": list(Sensor.objects.of(athlete)) if unnamed else [],
    }


def _unheard(athlete: Athlete, swept: SweepRun | None) -> bool:
    """Whether a file has waited for so long that a sweep should have come by, and none has."""
    since = timezone.now() - LATE
    waits = Recording.objects.of(athlete).filter(state=Recording.State.RECEIVED, received_at__lt=since)
    return (swept is None or swept.ended_at < since) and waits.exists()
