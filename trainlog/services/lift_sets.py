"""Sets of a part: kept as typed, and summed beside the load, never into it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.core.exceptions import ValidationError
from django.core.validators import ProhibitNullCharactersValidator
from django.db import transaction
from django.db.models import F, Max

from trainlog.models import Athlete, Deletion, LiftSet, Part
from trainlog.services.deletions import delete_row
from trainlog.services.log_changed import hold_log
from trainlog.services.workout_words import day_in_words

MOST_LINES = 200
"""Lines of sets that one part holds."""

MOST_OFFERED = 200
"""Names of exercises that are offered, the last used first."""

FIELDS = ("exercise", "sets", "repetitions", "kilograms", "rpe")
"""What the athlete says of a line."""


@dataclass(frozen=True)
class SetSums:
    """Sums over lines of sets.

    Attributes
    ----------
    exercise : str
        Empty for all of them together.
    sets, repetitions : int
        All of them, weighed or not.
    tonnage : float or None
        Kilograms moved in the weighed sets; None where none was weighed.
    bodyweight_sets : int
        Sets without a load outside the body: counted, not weighed.
    """

    exercise: str
    sets: int
    repetitions: int
    tonnage: float | None
    bodyweight_sets: int


def add_set(part: Part, said: Mapping[str, Any]) -> LiftSet:
    """Keep one more line of sets at the end of a part.

    Parameters
    ----------
    part : Part
        One of the log's.
    said : mapping
        Some of `FIELDS`: ``exercise`` and ``repetitions`` must be there; ``sets`` is 1 if left out.

    Raises
    ------
    ValidationError
        If the line says what nobody lifts, or the part holds too many.
    """
    row = LiftSet(owner=part.owner, part=part)
    with transaction.atomic():
        # Two lines at once must not take the same place.
        hold_log(part.owner)
        places = LiftSet.objects.of(part.owner).filter(part=part)
        if places.count() >= MOST_LINES:
            raise ValidationError(f"A part holds at most {MOST_LINES} lines of sets.")
        last = places.aggregate(last=Max("place"))["last"]
        row.place = 0 if last is None else last + 1
        return _keep(row, said)


def change_set(row: LiftSet, said: Mapping[str, Any]) -> LiftSet:
    """Keep what is said of a line in place of what was said before; what is left out stays.

    Raises
    ------
    ValidationError
        If the line would say what nobody lifts; then it stays as it was.
    """
    return _keep(row, said)


def delete_set(row: LiftSet) -> Deletion:
    """Remove a line of sets; it can be put back."""
    return delete_row(row, f"{row} of {day_in_words(row.part.workout.day)}")


def hand_over_sets(giver: Part, heir: Part) -> None:
    """Put the sets of a part that is about to go at the end of another's. Call inside a transaction."""
    last = heir.lift_sets.aggregate(last=Max("place"))["last"]
    giver.lift_sets.update(part=heir, place=F("place") + (0 if last is None else last + 1))


def exercises_of(athlete: Athlete) -> list[str]:
    """Names of the athlete's exercises, the last used first."""
    names = LiftSet.objects.of(athlete).values("exercise").annotate(last=Max("pk")).order_by("-last")
    return [row["exercise"] for row in names[:MOST_OFFERED]]


def sums_of(rows: Iterable[LiftSet], exercise: str = "") -> SetSums:
    """Sums over lines of sets."""
    lines = list(rows)
    weighed = [row.tonnage for row in lines if row.tonnage is not None]
    return SetSums(
        exercise=exercise,
        sets=sum(row.sets for row in lines),
        repetitions=sum(row.sets * row.repetitions for row in lines),
        tonnage=sum(weighed) if weighed else None,
        bodyweight_sets=sum(row.sets for row in lines if row.kilograms is None),
    )


def sums_by_exercise(rows: Iterable[LiftSet]) -> list[SetSums]:
    """Sums of each exercise, in the order in which they were begun."""
    by_exercise: dict[str, list[LiftSet]] = {}
    for row in rows:
        by_exercise.setdefault(row.exercise, []).append(row)
    return [sums_of(lines, exercise) for exercise, lines in by_exercise.items()]


def sums_between(athlete: Athlete, first: date, last: date) -> SetSums | None:
    """Sums over the workouts of some local days; None where they have no sets."""
    rows = list(LiftSet.objects.of(athlete).filter(part__workout__day__range=(first, last)))
    return sums_of(rows) if rows else None


def _keep(row: LiftSet, said: Mapping[str, Any]) -> LiftSet:
    for name in FIELDS:
        if name in said:
            setattr(row, name, said[name])
    row.exercise = " ".join(row.exercise.split())
    ProhibitNullCharactersValidator()(row.exercise)
    missing = {
        name: words
        for name, words in (
            ("sets", "Say how many sets."),
            ("repetitions", "Say how many repetitions a set had."),
        )
        if getattr(row, name) is None
    }
    if missing:
        raise ValidationError(missing)
    row.clean()
    row.clean_fields(exclude=["owner", "part", "place"])
    row.exercise = _as_written_before(row.owner, row.exercise)
    row.save()
    return row


def _as_written_before(athlete: Athlete, exercise: str) -> str:
    """The athlete's own spelling of an exercise that was typed in another case."""
    known: Sequence[str] = exercises_of(athlete)
    return next((name for name in known if name.casefold() == exercise.casefold()), exercise)
