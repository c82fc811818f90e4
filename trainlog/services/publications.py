"""When the estimates on show changed, so that programs need not ask for all of them again."""

from __future__ import annotations

from collections.abc import Collection
from datetime import timedelta

from django.db.models import Min, QuerySet
from django.utils import timezone

from trainlog.models import Athlete, Part, Publication

KEPT_FOR = timedelta(days=90)


def note_publication(athlete: Athlete, source: str, parts: Collection[int]) -> None:
    """Note that the loads of some parts are others than before; call it in the transaction of the change.

    Parameters
    ----------
    athlete : Athlete
    source : str
        Version of the estimates.
    parts : collection of int
        Keys of the parts; of none there is nothing to note.
    """
    if not parts:
        return
    days = Part.objects.of(athlete).filter(pk__in=parts).aggregate(first=Min("workout__day"))
    Publication.objects.create(owner=athlete, source=source, parts=len(parts), first_day=days["first"])


def publications_after(athlete: Athlete, known: int) -> QuerySet[Publication]:
    """Changes after one that is known, newest last."""
    return Publication.objects.of(athlete).filter(pk__gt=known).order_by("pk")


def forget_old_publications() -> None:
    """Drop what is older than ninety days, of every log."""
    Publication.objects.filter(published_at__lte=timezone.now() - KEPT_FOR).delete()
