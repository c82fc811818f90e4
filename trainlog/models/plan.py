"""What the athlete means to do: a load for a week, and sessions on days."""

from __future__ import annotations

from django.core.exceptions import ValidationError
from django.db import models

from trainlog.models.activity import Activity
from trainlog.models.measure import Measure
from trainlog.models.owned import Owned


class WeekPlan(Owned):
    """Range of load meant for one week, in one measure."""

    monday = models.DateField()
    measure = models.CharField(max_length=20, choices=Measure)
    low = models.FloatField("load at least", null=True, blank=True)
    high = models.FloatField("load at most", null=True, blank=True)
    note = models.TextField(default="", blank=True, max_length=4000)

    class Meta:
        ordering = ["monday"]
        constraints = [models.UniqueConstraint(fields=["owner", "monday", "measure"], name="one_plan_a_week")]

    def __str__(self) -> str:
        return f"plan of the week of {self.monday}"

    def clean(self) -> None:
        """Refuse a range that is none."""
        if self.monday and self.monday.weekday():
            raise ValidationError({"monday": "A week begins on a Monday."})
        for name in ("low", "high"):
            value = getattr(self, name)
            if value is not None and not 0 <= value <= 100_000:
                raise ValidationError({name: "A planned load lies between 0 and 100,000."})
        if self.low is None and self.high is None:
            raise ValidationError("Enter the least load, the most, or both.")
        if self.low is not None and self.high is not None and self.low > self.high:
            raise ValidationError("The least load planned must not exceed the most.")


class PlannedSession(Owned):
    """A session meant for a day; it is done once a workout of its activity is there."""

    day = models.DateField()
    activity = models.ForeignKey(Activity, on_delete=models.PROTECT, related_name="planned")
    minutes = models.PositiveSmallIntegerField(null=True, blank=True)
    hard = models.BooleanField(default=False, help_text="Meant to be a hard one.")
    note = models.CharField(max_length=400, default="", blank=True)

    class Meta:
        ordering = ["day", "pk"]
        indexes = [models.Index(fields=["owner", "day"])]

    def __str__(self) -> str:
        return f"{self.activity} planned for {self.day}"

    def clean(self) -> None:
        """Refuse a length that no session has."""
        if self.minutes is not None and not 1 <= self.minutes <= 24 * 60:
            raise ValidationError({"minutes": "A session lasts between one minute and 24 hours."})
