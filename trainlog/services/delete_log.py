"""Delete a log with all that is in it, and prove that nothing of it is left."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from axes.models import AccessAttempt, AccessLog
from django.apps import apps
from django.db import models, transaction

from trainlog import originals
from trainlog.models import Activity, Athlete, PlannedSession, Recording, Sensor, Workout
from trainlog.models.owned import Owned


@dataclass(frozen=True)
class Proof:
    """What was counted once a log was deleted.

    Attributes
    ----------
    rows : dict of str to int
        Rows of the log that are left, by table; all 0.
    files : int
        Original files that are left; 0.
    """

    rows: dict[str, int]
    files: int

    @property
    def nothing_left(self) -> bool:
        """Whether everything is gone."""
        return not self.files and not any(self.rows.values())


@dataclass(frozen=True)
class Contents:
    """How much a log holds, to be told before it is deleted."""

    workouts: int
    files: int
    sensors: int
    rows: int


def contents_of(athlete: Athlete) -> Contents:
    """Count what would go."""
    return Contents(
        workouts=Workout.objects.of(athlete).count(),
        files=originals.count(athlete.pk),
        sensors=Sensor.objects.of(athlete).count(),
        rows=sum(_rows_left(athlete.pk).values()),
    )


def delete_log(athlete: Athlete) -> Proof:
    """Delete an athlete's log, its sign-in, its originals, and its demo.

    Rows go first, in one transaction, then the files, whose folder is marked before: broken off between the
    two, no page shows anything any more, and the sweep removes what is marked.

    Parameters
    ----------
    athlete : Athlete
        Whose log it is; the user goes too.
    """
    demo = Athlete.objects.filter(demo_for=athlete.user_id).first()
    if demo is not None:
        delete_log(demo)
    key, user = athlete.pk, athlete.user
    originals.mark_leaving(key)
    with transaction.atomic():
        locked = Athlete.objects.select_for_update().get(pk=key)
        # In this order: activities and sensors are protected by what names them.
        for table in (PlannedSession, Workout, Recording, Activity, Sensor):
            table.objects.of(locked).delete()
        for trail in (AccessAttempt, AccessLog):
            trail.objects.filter(username=user.get_username()).delete()
        user.delete()
    originals.forget_all(key)
    return Proof(rows=_rows_left(key), files=originals.count(key))


def clear_away_leavings() -> int:
    """Remove the files of logs whose deletion was broken off after their rows went.

    Returns
    -------
    int
        Logs whose files were removed.
    """
    cleared = 0
    for key in originals.leaving():
        if Athlete.objects.filter(pk=key).exists():
            # Broken off before any row went: the log is whole, and so are its files.
            originals.stay(key)
        else:
            originals.forget_all(key)
            cleared += 1
    return cleared


def owned_tables() -> Iterator[type[models.Model]]:
    """Every table whose rows belong to an athlete, of whichever app."""
    return (model for model in apps.get_models() if issubclass(model, Owned))


def _rows_left(athlete_id: int) -> dict[str, int]:
    counts = {
        model._meta.label: model._default_manager.filter(owner=athlete_id).count() for model in owned_tables()
    }
    return counts | {Athlete._meta.label: Athlete.objects.filter(pk=athlete_id).count()}
