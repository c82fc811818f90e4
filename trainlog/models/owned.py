"""Every row of the log belongs to one athlete, and every query starts from that athlete."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeVar

from django.db import models

if TYPE_CHECKING:
    from trainlog.models.athlete import Athlete

Row = TypeVar("Row", bound=models.Model)


class OwnedQuerySet(models.QuerySet[Row]):
    """Rows that can be asked for by owner."""

    def of(self, athlete: Athlete) -> OwnedQuerySet[Row]:
        """Rows of one athlete; pages and operations use no other starting point."""
        return self.filter(owner=athlete)


class Owned(models.Model):
    """Base of every table but the athlete's own."""

    owner = models.ForeignKey("trainlog.Athlete", on_delete=models.CASCADE, related_name="+")

    objects = OwnedQuerySet.as_manager()

    class Meta:
        abstract = True
