"""Say that a log has changed, once the change is committed."""

from __future__ import annotations

from collections.abc import Iterable
from functools import partial

from django.db import models, transaction
from django.utils import timezone

from trainlog.models import Athlete, Part
from trainlog.signals import log_has_changed


def hold_log(athlete: Athlete) -> None:
    """Let nobody else change the log until the transaction ends, and read the athlete's own row anew.

    Whoever changes rows of a log takes this first: two that took it last would wait for each other.
    """
    athlete.refresh_from_db(from_queryset=Athlete.objects.select_for_update())


def log_changed(athlete: Athlete, parts: Iterable[Part] | models.QuerySet[Part] = ()) -> None:
    """Raise the input revision of the parts that a change touches, and wake whoever estimates.

    Call it inside the transaction of the change: the revisions belong to it, and the wake-up is
    sent after commit.

    Parameters
    ----------
    athlete : Athlete
        Whose log it is.
    parts : iterable of Part
        Parts whose estimate depends on what was changed.
    """
    ids = [part.pk for part in parts]
    if ids:
        Part.objects.of(athlete).filter(pk__in=ids).update(
            input_revision=models.F("input_revision") + 1, changed_at=timezone.now()
        )
    Athlete.objects.filter(pk=athlete.pk).update(log_revision=models.F("log_revision") + 1)
    transaction.on_commit(partial(log_has_changed.send, sender=Athlete, athlete_id=athlete.pk))
