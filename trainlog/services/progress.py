"""How far the files of a log are: what waits, what needs an answer, what was just read."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any, NamedTuple

import numpy as np
from django.core.cache import cache
from django.db.models import Count, Exists, Max, OuterRef, Q, Value
from django.db.models.functions import Coalesce, NullIf
from django.utils import timezone

from trainlog import trace_blob
from trainlog.models import Athlete, LoadEstimate, Part, Physiology, Recording, Sensor, SweepRun, Workout
from trainlog.pace import SWEEP_EVERY
from trainlog.services.import_files import Received
from trainlog.services.workout_words import activities_in_words, in_words

LATE = timedelta(seconds=4.5 * SWEEP_EVERY)
"""Time without a sweep after which something is wrong with scheduler, sweeper or queue."""

RECENT = timedelta(minutes=15)
"""How long a file that was read without trouble stays in sight."""

ONE_GO = timedelta(minutes=2)
"""Files that came with less than this between them are counted together."""

MOST_ROWS = 60
MOST_WAITING = 5
"""Names of waiting files that are shown; the others are counted."""


@dataclass(frozen=True)
class Found:
    """A file that was read, and what was found in it.

    Attributes
    ----------
    file : Recording
    what : str
        Activities of its workout.
    missing_seconds : int
        Without a heart rate.
    pair : str
        What it makes with another sensor's recording, in words.
    """

    file: Recording
    what: str
    missing_seconds: int
    pair: str


@dataclass(frozen=True)
class Said:
    """What is said at once of a file that was added.

    Attributes
    ----------
    kind : str
        "error" where it was not kept, "known" where it was there already, "anew" where it was deleted before.
    text : str
    """

    kind: str
    text: str


def waiting(athlete: Athlete) -> dict[str, Any]:
    """Files to show under the drop zone: waiting, in need of an answer, or just read."""
    since = timezone.now() - RECENT
    rows = (
        Recording.objects.of(athlete)
        .defer("trace_blob", "segments")
        .select_related("sensor", "workout")
        .order_by("-received_at", "-pk")
    )
    lately_read = Q(state=Recording.State.READ, received_at__gte=since, sensor__isnull=False)
    # Most of the time there is nothing to show, and one question says so.
    counts = Recording.objects.of(athlete).aggregate(
        refused=Count("pk", filter=Q(state=Recording.State.REFUSED)),
        received=Count("pk", filter=Q(state=Recording.State.RECEIVED)),
        unnamed=Count("pk", filter=Q(state=Recording.State.READ, sensor=None)),
        read=Count("pk", filter=lately_read),
        come=Count("pk", filter=Q(received_at__gte=since)),
    )
    refused = list(rows.filter(state=Recording.State.REFUSED)[:MOST_ROWS]) if counts["refused"] else []
    unnamed = _unnamed(athlete) if counts["unnamed"] else []
    newest = rows.in_bulk([source.newest for source in unnamed[:MOST_ROWS]]) if unnamed else {}
    swept = SweepRun.last()
    received_count, read_count = counts["received"], counts["read"]
    received = rows.filter(state=Recording.State.RECEIVED).order_by("received_at", "pk")
    in_one_go = _in_one_go(athlete, since, received_count) if counts["come"] else received_count
    read = rows.filter(lately_read).prefetch_related("workout__parts__activity")
    return {
        "refused": refused,
        "unnamed": [(newest[one.newest], one.files - 1) for one in unnamed if one.newest in newest],
        "received": list(received[:MOST_WAITING]) if received_count else [],
        "received_count": received_count,
        "more_waiting": max(0, received_count - MOST_WAITING),
        "in_one_go": in_one_go,
        "read_so_far": in_one_go - received_count,
        "estimating": _estimating(athlete, since),
        "swept_at": swept.ended_at if swept else None,
        "unheard": bool(received_count) and _unheard(athlete, swept),
        "read": _found(athlete, list(read[:MOST_ROWS])) if read_count else [],
        "read_count": read_count,
        "read_more": max(0, read_count - MOST_ROWS),
        "sensors": list(Sensor.objects.of(athlete)) if unnamed else [],
        "asked": _digest(
            [*(f"refused {row.pk} {row.problem}" for row in refused), *(one.source for one in unnamed)]
        ),
    }


class Unnamed(NamedTuple):
    """Files of one source that nobody named yet."""

    source: str
    newest: int
    files: int


def _unnamed(athlete: Athlete) -> list[Unnamed]:
    """Sources to ask for, the newest first: one answer holds for all files of a source."""
    files = Recording.objects.of(athlete).filter(state=Recording.State.READ, sensor=None)
    by_source = (
        files.values(source=Coalesce(NullIf("source_key", Value("")), "sha256"))
        .annotate(newest=Max("pk"), files=Count("pk"))
        .order_by("-newest")
    )
    return [Unnamed(**row) for row in by_source]


def said_of(athlete: Athlete, received: Received, deleted: Iterable[str]) -> list[Said]:
    """What to say at once of files that were added.

    Parameters
    ----------
    athlete : Athlete
    received : Received
        What became of them.
    deleted : iterable of str
        Hashes of files that deletions hold.
    """
    said = [Said("error", f"{refusal.name}: {refusal.problem}") for refusal in received.refusals]
    known = {row.pk for row in received.known}
    gone = set(deleted)
    for row in received.recordings:
        if row.pk in known:
            said.append(Said("known", _known(athlete, row)))
        elif row.sha256 in gone:
            said.append(
                Said(
                    "anew",
                    f"{row.file_name} was deleted lately and is imported anew; what you had said of it does "
                    "not come back this way. To have that back, delete it again and put the first one back.",
                )
            )
    return said


def _known(athlete: Athlete, row: Recording) -> str:
    workout = Workout.objects.of(athlete).filter(recordings=row).first()
    if workout is not None:
        return f"{row.file_name} is in your log already: {in_words([workout])}. Nothing was added."
    return f"{row.file_name} was added already and is waiting to be read."


def _in_one_go(athlete: Athlete, since: datetime, waits: int) -> int:
    """Files that came together lately, with all that still wait: of how many the rest are done."""
    come = Recording.objects.of(athlete).filter(received_at__gte=since).order_by("-received_at")
    count = read = 0
    last: datetime | None = None
    for moment, state in come.values_list("received_at", "state"):
        if last is not None and last - moment > ONE_GO:
            break
        count, last = count + 1, moment
        read += state != Recording.State.RECEIVED
    return max(count, read + waits)


def _estimating(athlete: Athlete, since: datetime) -> int:
    if not Physiology.objects.of(athlete).exists():
        return 0
    # By way of the parts, as in ``lines_of``: by the owner, a database without statistics goes through
    # all estimates for each part.
    shown = LoadEstimate.objects.filter(
        part=OuterRef("pk"),
        measure=athlete.measure,
        source=athlete.current_source,
        input_revision=OuterRef("input_revision"),
    )
    return Part.objects.of(athlete).filter(~Exists(shown), changed_at__gte=since).count()


def _found(athlete: Athlete, files: Sequence[Recording]) -> list[Found]:
    """What was found in files that were read; a few queries, whatever their number."""
    together: dict[int, list[Recording]] = {}
    workouts = [row.workout_id for row in files]
    others = Recording.objects.of(athlete).filter(workout__in=workouts).exclude(sensor=None)
    for row in others.defer("trace_blob", "segments", "notes").select_related("sensor"):
        if row.workout_id is not None:
            together.setdefault(row.workout_id, []).append(row)
    missing = missing_seconds(files)
    return [
        Found(
            row,
            activities_in_words(row.workout.parts.all()) if row.workout else "",
            missing.get(row.pk, 0),
            _pair(row, together.get(row.workout_id or 0, [])),
        )
        for row in files
    ]


def missing_seconds(files: Iterable[Recording]) -> dict[int, int]:
    """Seconds without a heart rate of recordings, by key; each is decoded once and then remembered.

    A page asks every two seconds while files are read.
    """
    names = {row.pk: f"missing-{row.pk}-{row.sha256}-{row.seconds}" for row in files}
    known = cache.get_many(names.values())
    unknown = [pk for pk, name in names.items() if name not in known]
    for pk, blob in Recording.objects.filter(pk__in=unknown).values_list("pk", "trace_blob"):
        rates = trace_blob.unpack_heart_rate(bytes(blob)) if blob else np.empty(0)
        known[names[pk]] = int(np.isnan(rates).sum())
    cache.set_many(known, timeout=RECENT.total_seconds())
    return {pk: known[name] for pk, name in names.items() if name in known}


def _pair(file: Recording, together: Iterable[Recording]) -> str:
    """What a file makes with another sensor's recording of the same session; empty for a sensor not known."""
    if file.sensor is None:
        return ""
    reference = file.sensor.is_reference
    other = next(
        (
            row
            for row in together
            if row.sensor and row.sensor.is_reference != reference and _overlap(row, file)
        ),
        None,
    )
    if other is not None and other.sensor is not None:
        return f"makes a pair with {other.sensor.name}"
    return "no wrist file of this session yet" if reference else "no strap file of this session yet"


def _overlap(one: Recording, other: Recording) -> bool:
    return bool(
        one.start
        and one.end
        and other.start
        and other.end
        and one.start < other.end
        and other.start < one.end
    )


def _digest(names: Iterable[str]) -> str:
    """Short name of a set of questions, by which a page knows whether it shows them already."""
    return hashlib.sha256("\n".join(sorted(names)).encode()).hexdigest()[:12]


def _unheard(athlete: Athlete, swept: SweepRun | None) -> bool:
    """Whether a file has waited for so long that a sweep should have come by, and none has."""
    since = timezone.now() - LATE
    waits = Recording.objects.of(athlete).filter(state=Recording.State.RECEIVED, received_at__lt=since)
    return (swept is None or swept.ended_at < since) and waits.exists()
