"""Workouts and their parts."""

from __future__ import annotations

import zoneinfo
from datetime import datetime

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.utils import timezone

from trainlog.load.session_rpe import HIGHEST_RATING
from trainlog.models.activity import Activity
from trainlog.models.owned import Owned
from trainlog.models.tag import Tag


class Workout(Owned):
    """One training session."""

    start = models.DateTimeField()
    end = models.DateTimeField()
    day = models.DateField(db_index=True, help_text="Local day on which it began.")
    time_zone = models.CharField(
        max_length=64, default="", blank=True, help_text="Of a stay during which it began; empty at home."
    )
    note = models.TextField(blank=True, default="")
    tags = models.ManyToManyField(Tag, blank=True, related_name="workouts")
    # A workout that the athlete typed, or whose recordings were moved by hand, is never regrouped.
    by_hand = models.BooleanField(default=False)

    class Meta:
        ordering = ["-start"]
        indexes = [models.Index(fields=["owner", "start"]), models.Index(fields=["owner", "day"])]
        constraints = [
            models.CheckConstraint(condition=models.Q(end__gt=models.F("start")), name="workout_lasts")
        ]

    def __str__(self) -> str:
        return f"workout of {self.day}"

    @property
    def minutes(self) -> float:
        """Length in minutes."""
        return (self.end - self.start).total_seconds() / 60

    @property
    def zone(self) -> zoneinfo.ZoneInfo:
        """Time zone by whose clock it began: that of a stay, else the athlete's own."""
        return zoneinfo.ZoneInfo(self.time_zone) if self.time_zone else self.owner.zone

    @property
    def local_start(self) -> datetime:
        """When it began, by the clock there."""
        return self.start.astimezone(self.zone)


class Part(Owned):
    """A stretch of a workout with its own activity: the unit of pair, profile and estimate."""

    workout = models.ForeignKey(Workout, on_delete=models.CASCADE, related_name="parts")
    start = models.DateTimeField()
    end = models.DateTimeField()
    activity = models.ForeignKey(Activity, on_delete=models.PROTECT, related_name="parts")
    session_rpe = models.FloatField(
        "session-RPE",
        null=True,
        blank=True,
        validators=[MinValueValidator(0), MaxValueValidator(HIGHEST_RATING)],
        help_text="0 (rest) to 10 (maximal), about half an hour after the session",
    )
    # Set where the athlete chose activity or boundaries: files no longer move them.
    by_hand = models.BooleanField(default=False)
    # Raised in the transaction that changes anything this part's estimate depends on.
    input_revision = models.PositiveIntegerField(default=1)
    changed_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["start"]
        constraints = [
            models.CheckConstraint(condition=models.Q(end__gt=models.F("start")), name="part_lasts")
        ]

    def __str__(self) -> str:
        return f"{self.activity} in {self.workout}"

    @property
    def seconds(self) -> int:
        """Length in whole seconds."""
        return round((self.end - self.start).total_seconds())

    @property
    def local_start(self) -> datetime:
        """When it began, by the clock of its workout."""
        return self.start.astimezone(self.workout.zone)
