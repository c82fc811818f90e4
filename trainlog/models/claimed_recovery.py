"""Recovery hours that a device claimed after a workout, as the athlete read them off it."""

from __future__ import annotations

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models

from trainlog.models.owned import Owned
from trainlog.models.workout import Workout


class ClaimedRecovery(Owned):
    """Hours claimed from one kind of heart rate; where both kinds were noted, the two can be compared."""

    class FedBy(models.TextChoices):
        WRIST = "wrist", "the wrist alone"
        STRAP = "strap", "a strap"

    workout = models.ForeignKey(Workout, on_delete=models.CASCADE, related_name="claimed_recoveries")
    fed_by = models.CharField(max_length=10, choices=FedBy)
    hours = models.FloatField(validators=[MinValueValidator(0), MaxValueValidator(240)])

    class Meta:
        ordering = ["workout", "fed_by"]
        constraints = [models.UniqueConstraint(fields=["workout", "fed_by"], name="one_claim_a_kind")]

    def __str__(self) -> str:
        return f"{self.hours:g} h claimed from {self.get_fed_by_display()}"
