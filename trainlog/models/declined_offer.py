"""Offered new values of physiology that the athlete did not want."""

from __future__ import annotations

from django.db import models
from django.utils import timezone

from trainlog.models.owned import Owned


class DeclinedOffer(Owned):
    """An offer is not made again until the figure goes beyond what was declined."""

    class Kind(models.TextChoices):
        MAXIMUM = "maximum", "maximum heart rate"
        RESTING = "resting", "resting heart rate"

    kind = models.CharField(max_length=10, choices=Kind)
    value = models.FloatField(help_text="bpm, as offered.")
    declined_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["-declined_at"]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} of {self.value:.0f} bpm, declined"
