"""Time by intensity of a span of days."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np

from trainlog.load.draws import DRAWS, interval
from trainlog.load.intensity import BANDS_OF_RESERVE
from trainlog.models import Athlete, IntensityEstimate

BANDS = tuple(name for name, _, _ in BANDS_OF_RESERVE)

LONGEST_DAYS = 400
"""Days over which draws of single parts are summed; of more than a year they would take long to read."""


@dataclass(frozen=True)
class BandMinutes:
    """Minutes in one band of intensity, with their 80% interval."""

    name: str
    place: int
    low: float
    median: float
    high: float

    @property
    def shade(self) -> str:
        """Name of its shade, from light to dark."""
        return f"band-{self.place}"


@dataclass(frozen=True)
class MinutesInBands:
    """Minutes in each band, of so many parts; others have no estimate of them.

    Attributes
    ----------
    bands, of_maximum : sequence of BandMinutes
        By heart-rate reserve, and by maximum heart rate. The two scales do not agree: see ``load.intensity``.
    parts, without : int
        Parts that are in it, and parts of the span that are not.
    """

    bands: Sequence[BandMinutes]
    of_maximum: Sequence[BandMinutes]
    parts: int
    without: int

    @property
    def both(self) -> list[tuple[BandMinutes, BandMinutes]]:
        """Each band by reserve and by maximum."""
        return list(zip(self.bands, self.of_maximum, strict=True))

    @property
    def highest(self) -> float:
        """Right end of a drawing of the bands."""
        return 1.02 * max(band.high for band in self.bands)


def minutes_in_bands(athlete: Athlete, first: date, last: date, parts: int) -> MinutesInBands | None:
    """Minutes in the five bands of heart-rate reserve and of maximum, summed draw by draw.

    Parameters
    ----------
    athlete : Athlete
    first, last : date
        Both included.
    parts : int
        How many parts the span has.

    Returns
    -------
    MinutesInBands or None
        None where no part has an estimate of them, or the span is longer than ``LONGEST_DAYS``.
    """
    if (last - first).days >= LONGEST_DAYS:
        return None
    stored = list(
        IntensityEstimate.objects.of(athlete)
        .filter(
            source=athlete.current_source,
            part__workout__owner=athlete,
            part__workout__day__range=(first, last),
        )
        .order_by("part__start")
        .values_list("bands", "bands_of_maximum")
    )
    if not stored:
        return None
    of_reserve, of_maximum = (_summed(column) for column in zip(*stored, strict=True))
    return MinutesInBands(of_reserve, of_maximum, len(stored), parts - len(stored))


def _summed(stored: Sequence[bytes | memoryview]) -> list[BandMinutes]:
    minutes = np.frombuffer(b"".join(map(bytes, stored)), dtype="<f2").reshape(len(stored), DRAWS, len(BANDS))
    summed = minutes.sum(axis=0, dtype=np.float64)
    return [BandMinutes(name, place + 1, *interval(summed[:, place])) for place, name in enumerate(BANDS)]
