"""Short words of the athlete's own on workouts, and the note beside them; no estimate depends on either."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from django.core.exceptions import ValidationError
from django.core.validators import ProhibitNullCharactersValidator
from django.db import transaction

from trainlog.models import Athlete, Tag, Workout
from trainlog.services.edit_workout import set_note
from trainlog.services.log_changed import hold_log

MOST_TAGS = 20
LONGEST_TAG = 40
SEPARATOR = ","


def describe_workout(workout: Workout, *, note: str | None = None, tags: Iterable[str] | None = None) -> None:
    """Keep the athlete's note and tags together; what is None stays as it is.

    Raises
    ------
    ValidationError
        If the tags cannot be; then the note stays too.
    """
    with transaction.atomic():
        if tags is not None:
            set_tags(workout, tags)
        if note is not None:
            set_note(workout, note)


def set_tags(workout: Workout, names: Iterable[str]) -> list[Tag]:
    """Give a workout these tags and no others; tags that no workout has any longer are removed.

    Parameters
    ----------
    workout : Workout
        One of the log's.
    names : iterable of str
        Of any spelling: spaces around and between words are tidied, and a name that differs from one of
        the athlete's tags by its case alone is that tag.

    Raises
    ------
    ValidationError
        If a name is too long or holds a comma, or if there are too many.
    """
    wanted = _tidied(names)
    athlete = workout.owner
    with transaction.atomic():
        # Two requests at once must not make the same tag twice.
        hold_log(athlete)
        tags = _rows_named(athlete, wanted)
        workout.tags.set(tags)
        Tag.objects.of(athlete).filter(workouts=None).delete()
    return tags


def give_tags(athlete: Athlete, workouts: Sequence[Workout], names: Iterable[str]) -> tuple[int, int, int]:
    """Add tags to several workouts.

    Returns
    -------
    tuple of int
        How many workouts have them now and had not; had all of them; and would have had too many.

    Raises
    ------
    ValidationError
        As in ``set_tags``, but for the number: a workout that would have too many stays as it is.
    """
    changed = had = full = 0
    with transaction.atomic():
        hold_log(athlete)
        wanted = set(_rows_named(athlete, _tidied(names)))
        for workout, tags in _tags_of(athlete, workouts).items():
            if wanted <= tags:
                had += 1
            elif len(wanted | tags) > MOST_TAGS:
                full += 1
            else:
                changed += 1
                workout.tags.add(*(wanted - tags))
        Tag.objects.of(athlete).filter(workouts=None).delete()
    return changed, had, full


def take_tags(athlete: Athlete, workouts: Sequence[Workout], names: Iterable[str]) -> tuple[int, int, int]:
    """Take tags from several workouts.

    Returns
    -------
    tuple of int
        How many workouts had any of them; had none; and 0, as in ``give_tags``.
    """
    changed = had = 0
    with transaction.atomic():
        hold_log(athlete)
        keys = set(_tidied(names))
        for workout, tags in _tags_of(athlete, workouts).items():
            gone = {tag for tag in tags if tag.name.casefold() in keys}
            changed, had = changed + bool(gone), had + (not gone)
            workout.tags.remove(*gone)
        Tag.objects.of(athlete).filter(workouts=None).delete()
    return changed, had, 0


def _rows_named(athlete: Athlete, wanted: dict[str, str]) -> list[Tag]:
    """Tags of these names, made where there is none. Call inside a transaction that holds the athlete."""
    known = {tag.name.casefold(): tag for tag in Tag.objects.of(athlete)}
    return [known.get(key) or Tag.objects.create(owner=athlete, name=name) for key, name in wanted.items()]


def _tags_of(athlete: Athlete, workouts: Sequence[Workout]) -> dict[Workout, set[Tag]]:
    rows = Workout.objects.of(athlete).filter(pk__in=[row.pk for row in workouts]).prefetch_related("tags")
    return {row: set(row.tags.all()) for row in rows}


def tags_in(text: str) -> list[str]:
    """Names in a text that separates them by commas."""
    return [name for name in text.split(SEPARATOR) if name.strip()]


def used_tags(athlete: Athlete) -> list[str]:
    """Names of the tags that some workout has, in the order of the alphabet."""
    names = Tag.objects.of(athlete).filter(workouts__isnull=False).values_list("name", flat=True).distinct()
    return sorted(names, key=str.casefold)


def tags_by_workout(athlete: Athlete, workout_ids: Iterable[int]) -> dict[int, list[str]]:
    """Names of the tags of each workout that has any, in one query."""
    found: dict[int, list[str]] = {}
    rows = Tag.objects.of(athlete).filter(workouts__in=list(workout_ids)).order_by("name")
    for workout_id, name in rows.values_list("workouts", "name"):
        found.setdefault(workout_id, []).append(name)
    return found


def _tidied(names: Iterable[str]) -> dict[str, str]:
    """Names by what they are compared by, the first spelling of each."""
    wanted: dict[str, str] = {}
    for written in names:
        name = " ".join(written.split())
        if name:
            wanted.setdefault(name.casefold(), name)
    _check(list(wanted.values()))
    return wanted


def _check(names: Sequence[str]) -> None:
    for name in names:
        ProhibitNullCharactersValidator()(name)
        if SEPARATOR in name:
            raise ValidationError({"tags": f"A tag holds no comma, and “{name}” does: write two tags."})
        if len(name) > LONGEST_TAG:
            raise ValidationError(
                {"tags": f"A tag has at most {LONGEST_TAG} characters; shorten “{name[:LONGEST_TAG]}…”."}
            )
    if len(names) > MOST_TAGS:
        raise ValidationError(
            {"tags": f"A workout has at most {MOST_TAGS} tags, not {len(names)}; take some away."}
        )
