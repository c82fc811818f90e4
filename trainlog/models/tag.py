"""Short words of the athlete's own by which workouts are found again."""

from django.db import models
from django.db.models.functions import Lower

from trainlog.models.owned import Owned


class Tag(Owned):
    """One word or a few, the same whatever its case."""

    name = models.CharField(max_length=40)

    class Meta:
        ordering = ["name"]
        constraints = [models.UniqueConstraint(Lower("name"), "owner", name="one_tag_a_name")]

    def __str__(self) -> str:
        return self.name
