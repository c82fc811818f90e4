"""What the athlete notes of a morning."""

from __future__ import annotations

import math

from django.core.exceptions import ValidationError
from django.db import models

from trainlog.models.owned import Owned

RANGES = {
    "resting_rate": (25.0, 120.0, "A resting heart rate lies between 25 and 120 bpm."),
    "rmssd": (1.0, 400.0, "An rMSSD lies between 1 and 400 ms; enter milliseconds, not their logarithm."),
    "sleep_hours": (0.0, 24.0, "Hours of sleep lie between 0 and 24."),
}
"""Lowest and highest value of each figure, and what to say of one outside."""

LOWEST_MARK, HIGHEST_MARK = 1, 7
ITEMS = ("sleep_quality", "fatigue", "stress", "soreness")
"""What is marked 1 to 7, 7 the worst.

The kinds of items are those of Hooper SL, Mackinnon LT (1995), Sports Med 20(5):321-327 (from memory); the
words are ours."""


class CheckIn(Owned):
    """One morning: a few figures and marks, each of which may be left out; never summed into one."""

    day = models.DateField(help_text="Local day.")
    resting_rate = models.FloatField("resting heart rate", null=True, blank=True, help_text="bpm")
    rmssd = models.FloatField("rMSSD", null=True, blank=True, help_text="ms, as your own device gives it")
    # Only where rMSSD was worked out from a file of RR intervals, whose quality was checked first.
    rmssd_beats = models.PositiveIntegerField("beats behind rMSSD", null=True, blank=True)
    rmssd_corrected_share = models.FloatField("share of beats corrected", null=True, blank=True)
    sleep_hours = models.FloatField("hours of sleep", null=True, blank=True)
    sleep_quality = models.PositiveSmallIntegerField(
        null=True, blank=True, help_text="1 very, very good to 7 very, very bad"
    )
    fatigue = models.PositiveSmallIntegerField(
        null=True, blank=True, help_text="1 very, very low to 7 very, very high"
    )
    stress = models.PositiveSmallIntegerField(
        null=True, blank=True, help_text="1 very, very low to 7 very, very high"
    )
    soreness = models.PositiveSmallIntegerField(
        "muscle soreness", null=True, blank=True, help_text="1 very, very low to 7 very, very high"
    )
    note = models.TextField(default="", blank=True, max_length=4000)

    class Meta:
        ordering = ["-day"]
        constraints = [models.UniqueConstraint(fields=["owner", "day"], name="one_check_in_a_day")]

    def __str__(self) -> str:
        return f"Morning of {self.day}"

    def clean(self) -> None:
        """Refuse figures that cannot be, and a morning of which nothing is noted."""
        wrong = {}
        for name, (lowest, highest, refusal) in RANGES.items():
            value = getattr(self, name)
            if value is not None and not lowest <= value <= highest:
                wrong[name] = refusal
        for name in ITEMS:
            mark = getattr(self, name)
            if mark is not None and not LOWEST_MARK <= mark <= HIGHEST_MARK:
                wrong[name] = f"Marks go from {LOWEST_MARK} to {HIGHEST_MARK}."
        if wrong:
            raise ValidationError(wrong)
        if not self.note and all(getattr(self, name) is None for name in (*RANGES, *ITEMS)):
            raise ValidationError("Nothing is noted yet: fill in at least one field.")

    @property
    def ln_rmssd(self) -> float | None:
        """Natural logarithm of rMSSD, whose means are compared."""
        return None if self.rmssd is None else math.log(self.rmssd)
