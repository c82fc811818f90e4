"""Kinds of work: families that share how a wrist errs, and the activities in them."""

from django.db import models

from trainlog.models.owned import Owned


class Family(models.TextChoices):
    """Upper level of the activity tree, fixed: priors are stated for each."""

    STEADY = "steady", "steady endurance"
    INTERVALS = "intervals", "endurance intervals"
    RESISTANCE = "resistance", "resistance"
    MIXED = "mixed", "mixed-modal intervals"
    OTHER = "other", "other"


class Activity(Owned):
    """Lower level of the activity tree, the athlete's own."""

    slug = models.SlugField(max_length=60)
    name = models.CharField(max_length=60)
    family = models.CharField(max_length=12, choices=Family)

    class Meta:
        ordering = ["family", "name"]
        verbose_name_plural = "activities"
        constraints = [models.UniqueConstraint(fields=["owner", "slug"], name="one_activity_a_slug")]

    def __str__(self) -> str:
        return self.name
