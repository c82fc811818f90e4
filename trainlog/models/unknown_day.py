"""Days of which nothing is known: not rest, and not any load in particular."""

from django.db import models

from trainlog.models.owned import Owned


class UnknownDay(Owned):
    """A local day on which the athlete may have trained, more than what is logged."""

    day = models.DateField()
    note = models.CharField(max_length=400, default="", blank=True)

    class Meta:
        ordering = ["day"]
        constraints = [models.UniqueConstraint(fields=["owner", "day"], name="one_mark_a_day")]

    def __str__(self) -> str:
        return f"{self.day} is not known"
