"""The trend, kept week by week, so that ten years of it are read in a moment."""

from __future__ import annotations

from django.db import models

from trainlog.models.measure import Measure
from trainlog.models.owned import Owned


class TrendWeek(Owned):
    """Seven days of a trend: figures to show, and the state from which the next week goes on.

    A function of the estimates of one source, the marked days and the athlete's spans, written together
    with those estimates; see ``services.trend``.
    """

    measure = models.CharField(max_length=20, choices=Measure)
    source = models.CharField(max_length=64, help_text="Of the estimates it was made from.")
    monday = models.DateField()
    inputs = models.BinaryField(help_text="Hash of what each of the seven days was made from.")
    figures = models.BinaryField(help_text="Low, median and high of each figure on each of the seven days.")
    state = models.BinaryField(help_text="Draws of the averages and responses at the end of Sunday.")

    class Meta:
        ordering = ["monday"]
        constraints = [
            models.UniqueConstraint(
                fields=["owner", "measure", "source", "monday"], name="one_trend_week_a_source"
            )
        ]

    def __str__(self) -> str:
        return f"trend of the week of {self.monday}"
