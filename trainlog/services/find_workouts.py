"""Finding workouts again, by what they are, what they rest on and what was written of them."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, fields, replace
from datetime import date

from django.db.models import Exists, OuterRef, Q, QuerySet, TextChoices
from django.db.models.expressions import Combinable

from trainlog.models import Activity, Athlete, LoadEstimate, Part, Recording, Sensor, Tag, Workout

LONGEST_SEARCH = 100


class Worn(TextChoices):
    """What recorded a workout; a sensor on the upper arm counts with those on the wrist."""

    STRAP = "strap", "with a strap"
    WRIST = "wrist", "the wrist alone"
    NOTHING = "nothing", "no file"


class Rated(TextChoices):
    """Whether every part of a workout has a session-RPE."""

    YES = "yes", "rated"
    NO = "no", "not rated"


@dataclass(frozen=True)
class Wanted:
    """What workouts are looked for; whatever is left out does not matter.

    ``text`` is searched for word by word, in any case, in the note, the tags, and the names of activities,
    sensors and files. ``basis`` and ``confidence`` are those of one and the same part.
    """

    text: str = ""
    activity: Activity | None = None
    family: str = ""
    sensor: Sensor | None = None
    worn: str = ""
    basis: str = ""
    confidence: str = ""
    rated: str = ""
    tag: str = ""
    first: date | None = None
    last: date | None = None

    def __bool__(self) -> bool:
        return bool(self.given)

    @property
    def given(self) -> list[str]:
        """Names of the fields that say something."""
        return [field.name for field in fields(self) if getattr(self, field.name)]

    def without(self) -> Iterator[tuple[str, Wanted]]:
        """Each field that says something, and everything else but it."""
        blank = Wanted()
        for name in self.given:
            yield name, replace(self, **{name: getattr(blank, name)})


def find_workouts(athlete: Athlete, wanted: Wanted) -> QuerySet[Workout]:
    """Workouts of an athlete that are all that is wanted, each once, in no particular order.

    One query, whatever is wanted: conditions on parts, recordings and tags stand inside it.
    """
    found = Workout.objects.of(athlete)
    if wanted.first:
        found = found.filter(day__gte=wanted.first)
    if wanted.last:
        found = found.filter(day__lte=wanted.last)
    for condition in _conditions(athlete, wanted):
        found = found.filter(condition)
    return found


def loosened(athlete: Athlete, wanted: Wanted) -> dict[str, int]:
    """How many workouts would be found without one of the fields, for those where there are any.

    A query for each field that says something; for where nothing was found.
    """
    counts = {name: find_workouts(athlete, rest).count() for name, rest in wanted.without() if rest}
    return {name: count for name, count in counts.items() if count}


def _conditions(athlete: Athlete, wanted: Wanted) -> Iterator[Q | Combinable]:
    parts = Part.objects.of(athlete).filter(workout=OuterRef("pk"))
    recordings = Recording.objects.of(athlete).filter(workout=OuterRef("pk"))
    tags = Tag.objects.of(athlete).filter(workouts=OuterRef("pk"))
    for word in wanted.text[:LONGEST_SEARCH].split():
        # Not `icontains`: SQLite knows the cases of A to Z only.
        anywhere = re.escape(word)
        yield (
            Q(note__iregex=anywhere)
            | Exists(tags.filter(name__iregex=anywhere))
            | Exists(parts.filter(activity__name__iregex=anywhere))
            | Exists(recordings.filter(Q(file_name__iregex=anywhere) | Q(sensor__name__iregex=anywhere)))
        )
    if wanted.activity:
        yield Exists(parts.filter(activity=wanted.activity))
    if wanted.family:
        yield Exists(parts.filter(activity__family=wanted.family))
    if wanted.sensor:
        yield Exists(recordings.filter(sensor=wanted.sensor))
    if wanted.tag:
        yield Exists(tags.filter(name__iregex=rf"^{re.escape(wanted.tag)}$"))
    if wanted.rated:
        unrated = Exists(parts.filter(session_rpe=None))
        yield ~unrated if wanted.rated == Rated.YES else unrated
    if wanted.basis or wanted.confidence:
        yield Exists(_estimates(athlete, wanted))
    if wanted.worn:
        yield from _worn(recordings, wanted.worn)


def _estimates(athlete: Athlete, wanted: Wanted) -> QuerySet[LoadEstimate]:
    shown = LoadEstimate.objects.of(athlete).filter(
        part__workout=OuterRef("pk"), measure=athlete.measure, source=athlete.current_source
    )
    if wanted.basis:
        shown = shown.filter(basis=wanted.basis)
    if wanted.confidence:
        shown = shown.filter(confidence=wanted.confidence)
    return shown


def _worn(recordings: QuerySet[Recording], worn: str) -> Iterator[Q | Combinable]:
    strap = Q(sensor__site=Sensor.Site.CHEST, sensor__principle=Sensor.Principle.ELECTRICAL)
    if worn == Worn.STRAP:
        yield Exists(recordings.filter(strap))
    elif worn == Worn.WRIST:
        yield Exists(recordings.filter(sensor__isnull=False))
        yield ~Exists(recordings.filter(strap))
    else:
        yield ~Exists(recordings)
