"""Sets of a resistance part: what heart rate says little about."""

from __future__ import annotations

from django.core.exceptions import ValidationError
from django.db import models

from trainlog.load.session_rpe import HIGHEST_RATING
from trainlog.models.owned import Owned
from trainlog.models.workout import Part

HEAVIEST, MOST_REPETITIONS = 1000.0, 1000


class LiftSet(Owned):
    """One set, or several alike: an exercise, a load and repetitions."""

    part = models.ForeignKey(Part, on_delete=models.CASCADE, related_name="lift_sets")
    place = models.PositiveSmallIntegerField(help_text="Order within the part, from 0.")
    exercise = models.CharField(max_length=60)
    sets = models.PositiveSmallIntegerField(default=1)
    repetitions = models.PositiveSmallIntegerField()
    kilograms = models.FloatField(
        null=True, blank=True, help_text="Load outside the body; empty where only the body is moved."
    )
    rpe = models.FloatField("RPE", null=True, blank=True, help_text="How hard the set was, 0 to 10.")

    class Meta:
        ordering = ["part", "place"]
        constraints = [models.UniqueConstraint(fields=["part", "place"], name="one_lift_set_a_place")]

    def __str__(self) -> str:
        return f"{self.sets} × {self.repetitions} {self.exercise}"

    def clean(self) -> None:
        """Refuse what nobody lifts."""
        wrong = {}
        if not self.exercise.strip():
            wrong["exercise"] = "Name the exercise."
        if self.sets is not None and not 1 <= self.sets <= 100:
            wrong["sets"] = "A line holds 1 to 100 sets."
        if self.repetitions is not None and not 1 <= self.repetitions <= MOST_REPETITIONS:
            wrong["repetitions"] = f"A set has 1 to {MOST_REPETITIONS} repetitions."
        if self.kilograms is not None and not 0 <= self.kilograms <= HEAVIEST:
            wrong["kilograms"] = f"A load lies between 0 and {HEAVIEST:.0f} kg."
        if self.rpe is not None and not 0 <= self.rpe <= HIGHEST_RATING:
            wrong["rpe"] = f"A rating lies between 0 and {HIGHEST_RATING}."
        if wrong:
            raise ValidationError(wrong)

    @property
    def tonnage(self) -> float | None:
        """Kilograms moved: load times repetitions times sets; None where only the body was moved."""
        return None if self.kilograms is None else self.sets * self.repetitions * self.kilograms
