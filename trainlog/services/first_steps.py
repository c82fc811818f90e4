"""How far a new log is on the way to its first pair."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta

from django.db.models import Exists, OuterRef, Q, QuerySet
from django.utils import timezone

from trainlog.models import Athlete, Physiology, Recording, Sensor, Workout

FEW_WORKOUTS = 5
"""With more than so many workouts and no pair, somebody knows what they do; the steps are no longer shown."""

NEWS_FOR = timedelta(days=1)
"""How long a first pair is news."""

REFERENCE = Q(sensor__site=Sensor.Site.CHEST, sensor__principle=Sensor.Principle.ELECTRICAL)


@dataclass(frozen=True)
class FirstSteps:
    """What is done and what is missing.

    Attributes
    ----------
    physiology : bool
        Whether resting and maximum heart rate are entered.
    any_workout : bool
        Whether there is a workout at all, with a file or without.
    unnamed : bool
        Whether a file waits to be told its sensor.
    lone : Workout or None
        Newest workout in which only a strap or only another sensor recorded.
    lone_is_reference : bool
        Whether it is the strap that recorded there.
    paired : bool
        Whether a workout has both.
    """

    physiology: bool
    any_workout: bool
    unnamed: bool
    lone: Workout | None
    lone_is_reference: bool
    paired: bool

    @property
    def next(self) -> int:
        """Number of the step that comes next."""
        if not self.physiology:
            return 1
        return 3 if self.paired else 2


def first_steps(athlete: Athlete) -> FirstSteps | None:
    """How far a log is; None once it has its first pair and physiology, or many workouts without."""
    if Workout.objects.of(athlete)[: FEW_WORKOUTS + 1].count() > FEW_WORKOUTS:
        return None
    physiology, paired = Physiology.objects.of(athlete).exists(), _with_both(athlete).exists()
    if physiology and paired:
        return None
    named = Recording.objects.of(athlete).filter(sensor__isnull=False, workout__isnull=False)
    newest = named.select_related("workout__owner", "sensor").defer("trace_blob").order_by("-start").first()
    lone = None if paired or newest is None else newest.workout
    return FirstSteps(
        physiology=physiology,
        any_workout=Workout.objects.of(athlete).exists(),
        unnamed=Recording.objects.of(athlete).filter(state=Recording.State.READ, sensor=None).exists(),
        lone=lone,
        lone_is_reference=bool(newest and newest.sensor and newest.sensor.is_reference),
        paired=paired,
    )


def pair_is_news(athlete: Athlete) -> bool:
    """Whether a workout has both recordings, one of them since a day at most, and none had both before.

    Of many at once, as from a whole log that was brought along, none is a first one.
    """
    before = timezone.now() - NEWS_FOR
    fresh = Q(received_at__gte=before) | Exists(_others(athlete).filter(received_at__gte=before))
    # Most logs have no fresh one, and the second question is not asked.
    if not 0 < _with_both(athlete).filter(fresh)[: FEW_WORKOUTS + 1].count() <= FEW_WORKOUTS:
        return False
    long_since = Exists(_others(athlete).filter(received_at__lt=before))
    return not _references(athlete).filter(long_since, received_at__lt=before).exists()


def _with_both(athlete: Athlete) -> QuerySet[Recording]:
    """Recordings of a reference in whose workout another sensor recorded too."""
    return _references(athlete).filter(Exists(_others(athlete)))


def _references(athlete: Athlete) -> QuerySet[Recording]:
    return Recording.objects.of(athlete).filter(REFERENCE, workout__isnull=False)


def _others(athlete: Athlete) -> QuerySet[Recording]:
    """Recordings of other sensors in the workout of an outer recording."""
    rows = Recording.objects.of(athlete).filter(workout=OuterRef("workout"), sensor__isnull=False)
    return rows.exclude(REFERENCE)
