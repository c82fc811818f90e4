"""When the regular sweep last ran."""

from __future__ import annotations

from django.db import models
from django.utils import timezone


class SweepRun(models.Model):
    """The last sweep of the installation: one row, which belongs to nobody."""

    THE_ONE = 1

    ended_at = models.DateTimeField(default=timezone.now)
    woken = models.PositiveIntegerField(default=0, help_text="Recordings that a worker was woken for.")
    given_up = models.PositiveIntegerField(default=0, help_text="Recordings refused after the last attempt.")

    def __str__(self) -> str:
        return f"sweep of {self.ended_at:%Y-%m-%d %H:%M:%S}"

    @classmethod
    def last(cls) -> SweepRun | None:
        """Return the last run; None before the first."""
        return cls.objects.filter(pk=cls.THE_ONE).first()
