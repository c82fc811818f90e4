"""Stays in other time zones than the athlete's own."""

from __future__ import annotations

import zoneinfo

from django.core.exceptions import ValidationError
from django.db import models

from trainlog.models.owned import Owned
from trainlog.models.time_zone import check_time_zone
from trainlog.whereabouts import Away


class Stay(Owned):
    """Days spent in a time zone; they are the local days there."""

    time_zone = models.CharField(max_length=64, validators=[check_time_zone])
    first_day = models.DateField("from")
    last_day = models.DateField("until")

    class Meta:
        ordering = ["first_day"]
        constraints = [
            models.CheckConstraint(condition=models.Q(last_day__gte=models.F("first_day")), name="stay_lasts")
        ]

    def __str__(self) -> str:
        return f"{self.time_zone} from {self.first_day} to {self.last_day}"

    def clean(self) -> None:
        """Refuse a stay that ends before it begins."""
        if self.first_day and self.last_day and self.last_day < self.first_day:
            raise ValidationError({"last_day": "A stay ends on the day it began or later."})

    @property
    def away(self) -> Away:
        """The stay as a plain value."""
        return Away(zoneinfo.ZoneInfo(self.time_zone), self.first_day, self.last_day)
