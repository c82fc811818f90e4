"""Sensors and their dated firmware."""

from __future__ import annotations

import uuid
from datetime import date

from django.db import models

from trainlog.models.owned import Owned


class Sensor(Owned):
    """One physical device that records heart rate."""

    class Site(models.TextChoices):
        CHEST = "chest", "chest"
        WRIST = "wrist", "wrist"
        UPPER_ARM = "upper_arm", "upper arm"

    class Principle(models.TextChoices):
        ELECTRICAL = "electrical", "electrical"
        OPTICAL = "optical", "optical"

    # Draws of what a sensor's sessions share are seeded by this key: stable under renaming.
    key = models.UUIDField(default=uuid.uuid4, editable=False)
    name = models.CharField(max_length=60)
    site = models.CharField(max_length=10, choices=Site, default=Site.WRIST)
    principle = models.CharField(max_length=10, choices=Principle, default=Principle.OPTICAL)
    source_key = models.CharField(
        max_length=200, default="", blank=True, help_text="How files of this sensor name their source."
    )

    class Meta:
        ordering = ["name"]
        constraints = [
            models.UniqueConstraint(fields=["owner", "name"], name="one_sensor_a_name"),
            models.UniqueConstraint(fields=["owner", "key"], name="one_sensor_a_key"),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def is_reference(self) -> bool:
        """Whether other sensors are held against this one: an electrical sensor on the chest."""
        return self.site == self.Site.CHEST and self.principle == self.Principle.ELECTRICAL

    def firmware_on(self, day: date) -> str:
        """Version in force on a day; empty before the first known change."""
        rows = [row for row in self.firmware.all() if row.from_day <= day]
        return max(rows, key=lambda row: row.from_day).version if rows else ""


class Firmware(Owned):
    """A version of a sensor's firmware, from a day on."""

    sensor = models.ForeignKey(Sensor, on_delete=models.CASCADE, related_name="firmware")
    version = models.CharField(max_length=40)
    from_day = models.DateField("from")

    class Meta:
        ordering = ["from_day"]
        constraints = [models.UniqueConstraint(fields=["sensor", "from_day"], name="one_firmware_a_day")]

    def __str__(self) -> str:
        return f"{self.version} from {self.from_day}"
