"""What a report calls sensors, activities and sessions: by their names, or so that nobody is told."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from string import ascii_uppercase

from trainlog.models import Activity, Sensor
from trainlog.services.athletes import FIRST_ACTIVITIES

BUILT_IN = {(slug, name) for slug, name, _ in FIRST_ACTIVITIES}

VERSION = re.compile(r"(?<![\d.])(?!\d\d\.\d\d\.\d\d(?!\d))\d{1,3}(?:\.\d{1,3}){1,3}(?!\.?\d)")
"""What of a typed firmware version tells nothing else: groups of up to three digits, and no date."""


@dataclass(frozen=True)
class Naming:
    """Names in one report.

    Attributes
    ----------
    anonymised : bool
    sensors, references, activities : mapping of int to str
        By primary key.
    """

    anonymised: bool
    sensors: Mapping[int, str]
    references: Mapping[int, str]
    activities: Mapping[int, str]

    def day(self, day: date) -> str | None:
        """Day as ISO; None where it must not be told."""
        return None if self.anonymised else day.isoformat()

    def firmware(self, version: str) -> str | None:
        """Firmware version; of a typed one only its numbers where nothing else may be told."""
        if not self.anonymised:
            return version or None
        found = VERSION.search(version)
        return found[0] if found else None


def naming_of(
    sensors: Sequence[Sensor],
    references: Iterable[Sensor],
    activities: Iterable[Activity],
    *,
    anonymised: bool,
) -> Naming:
    """Names for the rows of a report.

    Parameters
    ----------
    sensors : sequence of Sensor
        Tested ones, in the order of the report.
    references, activities : iterable
        In a fixed order, each row once or more.
    anonymised : bool
        Sensors become letters, references numbers, and activities of the athlete's own making their family
        with a number; activities that every log starts with keep their names.
    """
    electrical = {sensor.pk: sensor for sensor in references}
    kinds = {activity.pk: activity for activity in activities}
    if not anonymised:
        return Naming(
            False,
            {sensor.pk: sensor.name for sensor in sensors},
            {key: sensor.name for key, sensor in electrical.items()},
            {key: activity.name for key, activity in kinds.items()},
        )
    numbers = range(1, len(electrical) + 1)
    counts: Counter[str] = Counter()
    named = {}
    for key, activity in kinds.items():
        if (activity.slug, activity.name) in BUILT_IN:
            named[key] = activity.name
        else:
            counts[activity.family] += 1
            named[key] = f"{activity.get_family_display()} {counts[activity.family]}"
    return Naming(
        True,
        {sensor.pk: f"Sensor {letter_of(place)}" for place, sensor in enumerate(sensors)},
        {
            key: "Reference" if len(electrical) == 1 else f"Reference {number}"
            for number, key in zip(numbers, electrical, strict=True)
        },
        named,
    )


def letter_of(place: int) -> str:
    """Letter of the sensor at a place from 0: "A" to "Z", then "AA"."""
    before, last = divmod(place, len(ascii_uppercase))
    return (letter_of(before - 1) if before else "") + ascii_uppercase[last]
