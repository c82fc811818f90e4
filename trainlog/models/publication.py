"""When estimates on show changed, for programs that follow them."""

from __future__ import annotations

from django.db import models
from django.utils import timezone

from trainlog.models.owned import Owned


class Publication(Owned):
    """One change of the estimates on show: when, of how many parts, and from which day on."""

    published_at = models.DateTimeField(default=timezone.now)
    source = models.CharField(max_length=64)
    parts = models.PositiveIntegerField(help_text="Whose load is another than before.")
    first_day = models.DateField(null=True, help_text="Of the earliest of these; empty if there are none.")

    class Meta:
        ordering = ["-pk"]
        indexes = [models.Index(fields=["owner", "id"])]

    def __str__(self) -> str:
        return f"{self.parts} parts from {self.first_day}"
