"""Every deletion by the athlete: rows leave their tables at once, and can be put back for thirty days."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from typing import Any

from django.db import models, transaction
from django.utils import timezone

from trainlog import originals
from trainlog.models import Athlete, Deletion, Recording
from trainlog.models.deletion import KEPT_FOR
from trainlog.services.deleted_rows import pack, plain

LONGEST_WHAT = 200
AT_ONCE = 500
"""Deletions that one sweep forgets; the next ones follow with the next sweep."""


def delete_row(row: models.Model, what: str) -> Deletion:
    """Remove a row that nothing hangs on.

    Parameters
    ----------
    row : Model
        Of a kind that ``services.undo`` knows how to put back.
    what : str
        What it was, in the words of the page: "planned run of 24 November 2026".
    """
    athlete: Athlete = row.owner  # type: ignore[attr-defined]
    with transaction.atomic():
        deletion = keep_deleted(athlete, what, {"rows": plain([row])})
        row.delete()
    return deletion


def keep_deleted(
    athlete: Athlete, what: str, content: Mapping[str, Any], hashes: Iterable[str] = ()
) -> Deletion:
    """Keep what is removed. Call it inside the transaction that removes it.

    Parameters
    ----------
    athlete : Athlete
        Whose it is.
    what : str
        In the words of the page.
    content : mapping
        Under "rows" those to put back, each after those that it points at; beside them whatever
        ``services.undo`` needs to know, as JSON.
    hashes : iterable of str
        Of originals to keep as long as this can be undone.
    """
    return Deletion.objects.create(
        owner=athlete,
        what=what if len(what) <= LONGEST_WHAT else f"{what[: LONGEST_WHAT - 1]}…",
        rows=pack(content),
        hashes=sorted(set(hashes)),
    )


def deletions_of(athlete: Athlete) -> models.QuerySet[Deletion]:
    """Deletions that can still be undone, newest first, without what they hold."""
    return (
        Deletion.objects.of(athlete)
        .filter(deleted_at__gt=timezone.now() - KEPT_FOR)
        .defer("rows")
        .order_by("-deleted_at", "-pk")
    )


def until(deletion: Deletion) -> datetime:
    """Instant from which a deletion cannot be undone any more."""
    return deletion.deleted_at + KEPT_FOR


def delete_for_good(deletion: Deletion) -> None:
    """Forget what a deletion holds, and the originals that nothing else names."""
    athlete_id, hashes = deletion.owner_id, list(deletion.hashes)
    deletion.delete()
    forget_unnamed(athlete_id, hashes)


def forget_old() -> int:
    """Drop what can no longer be undone, of every log; how many deletions that were."""
    old = Deletion.objects.filter(deleted_at__lte=timezone.now() - KEPT_FOR).defer("rows")
    gone = list(old.order_by("deleted_at")[:AT_ONCE])
    for deletion in gone:
        delete_for_good(deletion)
    return len(gone)


def forget_unnamed(athlete_id: int, hashes: Sequence[str]) -> None:
    """Remove originals that neither a recording nor a deletion of their owner names."""
    if not hashes:
        return
    with transaction.atomic():
        # Whoever receives these bytes anew waits here, and then finds that they have to be kept again.
        Athlete.objects.select_for_update().filter(pk=athlete_id).first()
        named = set(Recording.objects.filter(owner_id=athlete_id).values_list("sha256", flat=True))
        for kept in Deletion.objects.filter(owner_id=athlete_id).values_list("hashes", flat=True):
            named.update(kept)
        for sha256 in set(hashes) - named:
            originals.forget(athlete_id, sha256)


def deleted_hashes(athlete: Athlete) -> set[str]:
    """Of the files that deletions hold: one that is added again is imported anew."""
    return {sha256 for hashes in deletions_of(athlete).values_list("hashes", flat=True) for sha256 in hashes}
