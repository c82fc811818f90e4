"""The athlete and the dated physiology that turns heart rate into load."""

from __future__ import annotations

import secrets
import zoneinfo
from collections.abc import Sequence
from datetime import date

import numpy as np
from django.conf import settings
from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.utils import timezone

from trainlog.load.impulse_response import FAST_DAYS, SLOW_DAYS
from trainlog.load.individual_weighting import individual_weighting
from trainlog.load.trend import ACUTE_DAYS, CHRONIC_DAYS
from trainlog.load.trimp import MEN, WOMEN, Weighting
from trainlog.models.measure import Measure
from trainlog.models.owned import Owned
from trainlog.models.stay import Stay
from trainlog.models.time_zone import check_time_zone
from trainlog.whereabouts import Whereabouts

# Tanaka H, Monahan KD, Seals DR (2001). J Am Coll Cardiol 37:153-156: 208 - 0.7 x age. The error of
# age formulas, 7-11 bpm: Robergs RA, Landwehr R (2002). J Exerc Physiol Online 5(2):1-10.
AGE_FORMULA_ERROR = 10.0
MEASURED_MAXIMUM_ERROR = 3.0
"""bpm; repeatability of a measured maximum (common practice, no source)."""
RESTING_ERROR = 3.0
"""bpm; repeatability of a resting rate (common practice, no source)."""

NEAR_PER_CENT = 10
"""A load within this of the truth serves a training decision (common practice, no source)."""


def maximum_for_age(years: float) -> float:
    """Maximum heart rate in bpm that an age formula predicts.

    References
    ----------
    Tanaka H, Monahan KD, Seals DR (2001). J Am Coll Cardiol 37:153-156.
    """
    return 208 - 0.7 * years


def new_seed() -> int:
    """Seed for a new athlete's shared draws; kept for good, so that refits do not move them."""
    return secrets.randbits(62)


class Athlete(models.Model):
    """One person's log."""

    user = models.OneToOneField(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="athlete")
    # The invented scenario is a log of its own, of a user who cannot sign in: nothing of it can get
    # among what a person trained, and removing it removes this row.
    demo_for = models.OneToOneField(
        settings.AUTH_USER_MODEL,
        on_delete=models.CASCADE,
        null=True,
        blank=True,
        related_name="demo",
        editable=False,
        help_text="Whoever looks at the demo in this log.",
    )
    time_zone = models.CharField(max_length=64, default="UTC", validators=[check_time_zone])
    keep_positions = models.BooleanField(
        "keep positions", default=False, help_text="Keep where you were, when a file says so."
    )
    near_per_cent = models.PositiveSmallIntegerField(
        "how near a load must be, %",
        default=NEAR_PER_CENT,
        validators=[MinValueValidator(2), MaxValueValidator(30)],
        help_text="Of the true load. Advice on when to wear a strap goes by it.",
    )
    measure = models.CharField("measure of load", max_length=20, choices=Measure, default=Measure.TRIMP)
    acute_days = models.PositiveSmallIntegerField(default=round(ACUTE_DAYS))
    chronic_days = models.PositiveSmallIntegerField(default=round(CHRONIC_DAYS))
    slow_days = models.PositiveSmallIntegerField(default=round(SLOW_DAYS))
    fast_days = models.PositiveSmallIntegerField(default=round(FAST_DAYS))
    seed = models.BigIntegerField(default=new_seed, editable=False)
    # Raised with every change that an estimate could rest on, in the transaction of the change.
    log_revision = models.PositiveBigIntegerField(default=0, editable=False)
    # Which version of the estimates the pages show. The log does not know what it means:
    # whoever writes estimates flips it, in one small transaction, once all of them are there.
    current_source = models.CharField(max_length=64, default="", blank=True, editable=False)

    def __str__(self) -> str:
        return self.user.get_username()

    @property
    def zone(self) -> zoneinfo.ZoneInfo:
        """Time zone at home; during a stay elsewhere days go by that of the stay."""
        return zoneinfo.ZoneInfo(self.time_zone)

    def whereabouts(self) -> Whereabouts:
        """Home and all stays elsewhere, for asking after many instants."""
        return Whereabouts(self.zone, tuple(stay.away for stay in Stay.objects.of(self)))

    def today(self) -> date:
        """Local day, by the clock of wherever the athlete is now."""
        return self.whereabouts().day_of(timezone.now())

    def physiology(self) -> DatedPhysiology:
        """All dated physiology, for asking after many days."""
        return DatedPhysiology(list(Physiology.objects.of(self).order_by("from_day")))


class DatedPhysiology:
    """An athlete's physiology over time.

    Parameters
    ----------
    rows : sequence of Physiology
        In order of their days.
    """

    def __init__(self, rows: Sequence[Physiology]) -> None:
        self.rows = rows

    def on(self, day: date) -> Physiology | None:
        """Row in force on a day: the newest not after it, else the oldest there is."""
        oldest = self.rows[0] if self.rows else None
        return next((row for row in reversed(self.rows) if row.from_day <= day), oldest)


class Physiology(Owned):
    """Resting and maximum heart rate, with their errors, from a day on."""

    class MaximumSource(models.TextChoices):
        MEASURED = "measured", "measured in a hard test"
        AGE = "age", "predicted from age"

    class WeightingChoice(models.TextChoices):
        MEN = "men", "Banister's weighting for men"
        WOMEN = "women", "Banister's weighting for women"
        OWN = "own", "own weighting"

    from_day = models.DateField("from")
    resting_rate = models.FloatField("resting heart rate", help_text="bpm, lying awake in the morning")
    resting_error = models.FloatField("standard error of resting rate", default=RESTING_ERROR)
    maximum_rate = models.FloatField("maximum heart rate", help_text="bpm")
    maximum_source = models.CharField(
        "where the maximum comes from", max_length=10, choices=MaximumSource, default=MaximumSource.AGE
    )
    maximum_error = models.FloatField("standard error of maximum rate", default=AGE_FORMULA_ERROR)
    first_threshold = models.FloatField("heart rate at first threshold", null=True, blank=True)
    second_threshold = models.FloatField("heart rate at second threshold", null=True, blank=True)
    weighting = models.CharField(
        "load weighting", max_length=10, choices=WeightingChoice, default=WeightingChoice.MEN
    )
    own_factor = models.FloatField("own weighting, factor", null=True, blank=True)
    own_exponent = models.FloatField("own weighting, exponent", null=True, blank=True)
    lactate_points = models.JSONField(
        default=list, blank=True, help_text="Of a test: heart rate in bpm and blood lactate in mmol/l."
    )

    class Meta:
        ordering = ["from_day"]
        constraints = [
            models.UniqueConstraint(fields=["owner", "from_day"], name="one_physiology_a_day"),
            models.CheckConstraint(
                condition=models.Q(maximum_rate__gt=models.F("resting_rate") + 20),
                name="maximum_above_resting",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.resting_rate:.0f}–{self.maximum_rate:.0f} bpm from {self.from_day}"

    def clean(self) -> None:
        """Refuse figures that no heart has, and an own weighting with neither numbers nor a test to fit."""
        if self.maximum_rate is not None and not 100 <= self.maximum_rate <= 240:
            raise ValidationError({"maximum_rate": "A maximum heart rate lies between 100 and 240 bpm."})
        if self.resting_rate is not None and not 25 <= self.resting_rate <= 120:
            raise ValidationError({"resting_rate": "A resting heart rate lies between 25 and 120 bpm."})
        if None not in (self.maximum_rate, self.resting_rate) and self.maximum_rate <= self.resting_rate + 20:
            raise ValidationError("The maximum must lie more than 20 bpm above the resting rate.")
        for name in ("resting_error", "maximum_error"):
            value = getattr(self, name)
            if value is not None and not 0 <= value <= 20:
                raise ValidationError({name: "A standard error lies between 0 and 20 bpm."})
        self._check_thresholds()
        if self.weighting == self.WeightingChoice.OWN and self.lactate_points:
            self._fit_own_weighting()
        elif self.weighting == self.WeightingChoice.OWN and not (self.own_factor and self.own_exponent):
            raise ValidationError(
                "An own weighting needs its factor and its exponent, or a lactate test to fit them to."
            )

    def _fit_own_weighting(self) -> None:
        if self.resting_rate is None or self.maximum_rate is None:
            return
        rates, lactate = np.array(self.lactate_points, dtype=float).T
        try:
            fitted = individual_weighting(rates, lactate, self.resting_rate, self.maximum_rate)
        except ValueError as refusal:
            raise ValidationError({"lactate_points": f"No weighting can be fitted: {refusal}."}) from refusal
        self.own_factor, self.own_exponent = fitted.a, fitted.b

    @property
    def fitted_to_test(self) -> bool:
        """Whether loads go by a weighting that was fitted to a lactate test."""
        return self.weighting == self.WeightingChoice.OWN and bool(self.lactate_points)

    def _check_thresholds(self) -> None:
        known = [
            (name, value)
            for name in ("first_threshold", "second_threshold")
            if (value := getattr(self, name)) is not None
        ]
        for name, value in known:
            if self.resting_rate is not None and not self.resting_rate < value:
                raise ValidationError({name: "A threshold lies above the resting rate."})
            if self.maximum_rate is not None and not value < self.maximum_rate:
                raise ValidationError({name: "A threshold lies below the maximum."})
        if len(known) == 2 and known[0][1] >= known[1][1]:
            raise ValidationError({"second_threshold": "The second threshold lies above the first."})

    @property
    def load_weighting(self) -> Weighting:
        """Constants of Banister's training impulse."""
        if self.weighting == self.WeightingChoice.OWN and self.own_factor and self.own_exponent:
            return Weighting(self.own_factor, self.own_exponent)
        return WOMEN if self.weighting == self.WeightingChoice.WOMEN else MEN
