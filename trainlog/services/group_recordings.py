"""Which recordings are one workout: a function of the set of recordings, not of the order they came in."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db.models import Q, QuerySet

from trainlog.models import Activity, Athlete, ClaimedRecovery, Part, Recording, Workout
from trainlog.services.lift_sets import hand_over_sets
from trainlog.services.local_days import set_local_day
from trainlog.services.log_changed import log_changed
from trainlog.services.sports import activity_for

LEAST_OVERLAP = 0.5
"""Share of the shorter span that must overlap before two recordings are one workout."""


@dataclass(frozen=True)
class Span:
    """A recording's place in time; ``key`` breaks ties by content."""

    start: datetime
    end: datetime
    key: str


def grouped(spans: Iterable[Span]) -> list[list[Span]]:
    """Group recordings into workouts.

    In order of start (then of content), each joins the group it overlaps most, if they share at
    least half of the shorter of the two; else it begins a group of its own.

    Parameters
    ----------
    spans : iterable of Span
        In any order.

    Returns
    -------
    list of list of Span
        The same groups for every order of the input.
    """
    groups: list[list[Span]] = []
    for span in sorted(spans, key=lambda span: (span.start, span.key)):
        best, longest = None, timedelta(0)
        for group in groups:
            begins, ends = group[0].start, max(member.end for member in group)
            overlap = min(span.end, ends) - max(span.start, begins)
            shorter = min(span.end - span.start, ends - begins)
            if overlap > longest and overlap >= LEAST_OVERLAP * shorter:
                best, longest = group, overlap
        if best is None:
            groups.append([span])
        else:
            best.append(span)
    return groups


def place(recording: Recording) -> None:
    """Give a recording its workout, and regroup whatever it bridges. Call it while the log is held."""
    athlete = recording.owner
    by_hand = _overlapping_workout_by_hand(recording)
    if by_hand is not None:
        recording.workout = by_hand
        recording.save(update_fields=["workout"])
        settle(by_hand)
        return
    together = _connected(recording)
    by_key = {row.sha256: row for row in together}
    spans = [Span(row.start, row.end, row.sha256) for row in together if row.start and row.end]
    before = {row.workout_id for row in together if row.workout_id}
    taken: set[int] = set()
    whereabouts = athlete.whereabouts()
    for group in grouped(spans):
        rows = [by_key[span.key] for span in group]
        held = next((row.workout for row in rows if row.workout and row.workout_id not in taken), None)
        workout = held or Workout(owner=athlete)
        workout.start, workout.end = group[0].start, max(span.end for span in group)
        set_local_day(workout, whereabouts)
        workout.save()
        taken.add(workout.pk)
        Recording.objects.of(athlete).filter(pk__in=[row.pk for row in rows]).update(workout=workout)
        settle(workout)
    if before - taken:
        gone = Workout.objects.of(athlete).filter(pk__in=before - taken)
        _hand_over(gone, Workout.objects.of(athlete).filter(pk__in=taken))
        gone.delete()


def _hand_over(gone: QuerySet[Workout], kept: QuerySet[Workout]) -> None:
    """Keep what was said of workouts that merge into others: no file undoes it."""
    parts = list(Part.objects.filter(workout__in=kept))
    for lifted in Part.objects.filter(workout__in=gone, lift_sets__isnull=False).distinct():
        hand_over_sets(lifted, max(parts, key=lambda part: _shared(part, lifted)))
    unrated = [part for part in parts if part.session_rpe is None]
    for rated in Part.objects.filter(workout__in=gone, session_rpe__isnull=False):
        heir = max(unrated, key=lambda part: _shared(part, rated), default=None)
        if heir is not None and _shared(heir, rated) > timedelta(0):
            heir.session_rpe = rated.session_rpe
            heir.save(update_fields=["session_rpe"])
            unrated.remove(heir)
    workouts = list(kept)
    for tagged in gone.filter(tags__isnull=False).distinct():
        max(workouts, key=lambda workout: _shared(workout, tagged)).tags.add(*tagged.tags.all())
    for claim in ClaimedRecovery.objects.filter(workout__in=gone).select_related("workout"):
        heir_of_claim = max(workouts, key=lambda workout: _shared(workout, claim.workout))
        if not heir_of_claim.claimed_recoveries.filter(fed_by=claim.fed_by).exists():
            claim.workout = heir_of_claim
            claim.save(update_fields=["workout"])
    for noted in gone.exclude(note=""):
        merged = max(workouts, key=lambda workout: _shared(workout, noted))
        merged.note = "\n".join(note for note in (merged.note, noted.note) if note)
        merged.save(update_fields=["note"])


def _shared(one: Part | Workout, other: Part | Workout) -> timedelta:
    """How long two of them overlap; negative by how far they lie apart."""
    return min(one.end, other.end) - max(one.start, other.start)


def settle(workout: Workout) -> None:
    """Give a workout the parts that its recordings imply; boundaries set by hand stay, within the workout."""
    athlete = workout.owner
    parts = list(workout.parts.order_by("start"))
    timed = workout.recordings.filter(start__isnull=False).order_by("start", "sha256")
    recordings = list(timed.only("workout", "start", "end", "segments"))
    wanted = _stretches(athlete, workout, recordings)
    if any(part.by_hand for part in parts):
        _stretch_to(workout, parts)
    else:
        for part, stretch in zip(parts, wanted, strict=False):
            _keep_part(part, stretch)
        for part in parts[len(wanted) :]:
            hand_over_sets(part, parts[len(wanted) - 1])
            part.delete()
        for start, end, activity in wanted[len(parts) :]:
            Part.objects.create(owner=athlete, workout=workout, start=start, end=end, activity=activity)
    log_changed(athlete, workout.parts.all())


def _stretch_to(workout: Workout, parts: Sequence[Part]) -> None:
    """Make parts reach from the beginning of their workout to its end, wherever a file has moved these to."""
    inside = [part for part in parts if part.start < workout.end and part.end > workout.start]
    kept = inside or [parts[0]]
    for part in parts:
        if part not in kept:
            hand_over_sets(part, kept[0] if part.end <= workout.start else kept[-1])
            part.delete()
    last = len(kept) - 1
    for place, part in enumerate(kept):
        start = part.start if place else workout.start
        end = part.end if place < last else workout.end
        _keep_part(part, (start, end, part.activity))


def close_ranks(workout: Workout) -> None:
    """Bring a workout in order after a recording left it: one that nothing is left of goes too."""
    if workout.by_hand:
        settle(workout)
        return
    left = list(workout.recordings.order_by("start", "sha256"))
    if not left:
        athlete = workout.owner
        workout.delete()
        log_changed(athlete)
    # What the recording that left had bridged may be several workouts now.
    Recording.objects.filter(pk__in=[row.pk for row in left[1:]]).update(workout=None)
    for row in left:
        row.refresh_from_db()
        place(row)


def _keep_part(part: Part, stretch: tuple[datetime, datetime, Activity]) -> None:
    if (part.start, part.end, part.activity) != stretch:
        part.start, part.end, part.activity = stretch
        part.save(update_fields=["start", "end", "activity"])


def _stretches(
    athlete: Athlete, workout: Workout, recordings: Sequence[Recording]
) -> list[tuple[datetime, datetime, Activity]]:
    """Stretches that the recording with the most segments marks; it and the workout share both ends."""
    marked: list[dict[str, str]] = max((row.segments for row in recordings), key=len, default=[])
    if not marked:
        return [(workout.start, workout.end, activity_for(athlete, ""))]
    begins = [datetime.fromisoformat(segment["start"]) for segment in marked]
    begins[0] = workout.start
    ends = [*begins[1:], workout.end]
    sports = [segment["sport"] for segment in marked]
    return [
        (begin, end, activity_for(athlete, sport))
        for begin, end, sport in zip(begins, ends, sports, strict=True)
        if end > begin
    ]


def _overlapping_workout_by_hand(recording: Recording) -> Workout | None:
    """Hand-made workout that shares at least half of the shorter span with the recording."""
    if not (recording.start and recording.end):
        return None
    best, longest = None, timedelta(0)
    for workout in Workout.objects.filter(
        owner_id=recording.owner_id, by_hand=True, start__lt=recording.end, end__gt=recording.start
    ):
        overlap = min(workout.end, recording.end) - max(workout.start, recording.start)
        shorter = min(workout.end - workout.start, recording.end - recording.start)
        if overlap > longest and overlap >= LEAST_OVERLAP * shorter:
            best, longest = workout, overlap
    return best


def _connected(recording: Recording) -> list[Recording]:
    """The recording and all that overlap it directly or through others, hand-made workouts left out."""
    free = Recording.objects.filter(owner_id=recording.owner_id, state=Recording.State.READ).exclude(
        workout__by_hand=True
    )
    rows = [recording]
    while True:
        begins = min(row.start for row in rows if row.start)
        ends = max(row.end for row in rows if row.end)
        found = list(
            free.filter(Q(start__lt=ends, end__gt=begins))
            .select_related("workout")
            .defer("trace_blob")
            .order_by("start", "sha256")
        )
        if len(found) <= len(rows):
            return found or rows
        rows = found
