"""Adding and changing sensors."""

from __future__ import annotations

from datetime import date

from django.db import transaction

from trainlog.models import Athlete, Firmware, Part, Recording, Sensor
from trainlog.services.log_changed import hold_log, log_changed


def save_sensor(athlete: Athlete, sensor: Sensor) -> Sensor:
    """Keep a new or changed sensor; what its recordings touch is estimated anew.

    Raises
    ------
    ValidationError
        If its name is taken or a field is wrong.
    """
    sensor.owner = athlete
    sensor.full_clean()
    with transaction.atomic():
        hold_log(athlete)
        sensor.save()
        if sensor.source_key:
            Recording.objects.of(athlete).filter(source_key=sensor.source_key, sensor=None).update(
                sensor=sensor
            )
        log_changed(athlete, _parts_of(sensor))
    return sensor


def note_firmware(sensor: Sensor, version: str, from_day: date) -> Firmware:
    """Note that a sensor has run a version from a day on."""
    with transaction.atomic():
        hold_log(sensor.owner)
        firmware, _ = Firmware.objects.update_or_create(
            sensor=sensor, from_day=from_day, defaults={"owner": sensor.owner, "version": version}
        )
        log_changed(sensor.owner, _parts_of(sensor))
    return firmware


def _parts_of(sensor: Sensor) -> list[Part]:
    return list(Part.objects.of(sensor.owner).filter(workout__recordings__sensor=sensor).distinct())
