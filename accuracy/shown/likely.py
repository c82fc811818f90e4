"""What a page says of the likely-true heart rate of a wrist-only part."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from accuracy import charts
from accuracy.core.agreement.conditions import INTENSITY_BANDS
from accuracy.core.estimates.rate_shift import PEAK_SECONDS
from accuracy.services.likely import LikelyPart, likely_of
from trainlog.load.draws import interval
from trainlog.models import Athlete, Part, Sensor
from trainlog.trace import FloatArray


@dataclass(frozen=True)
class Line:
    """One figure: as the wrist has it, most likely, and its 80% interval, in words."""

    label: str
    unit: str
    recorded: str
    likely: str
    between: str
    note: str = ""


@dataclass(frozen=True)
class LikelyShown:
    """Chart and table of a wrist-only part.

    Attributes
    ----------
    chart_id : str
        Not that of any other part's.
    pairs : int
        Of the same family of activities, from which the figures' doubt was learned.
    missing_seconds : int
    """

    sensor: Sensor
    chart_id: str
    chart: dict[str, Any]
    rates: Sequence[Line]
    bands: Sequence[Line]
    pairs: int
    missing_seconds: int


def likely_of_part(athlete: Athlete, part: Part) -> LikelyShown | None:
    """Likely-true trace and rates of a part; None where its load does not rest on a tested sensor."""
    found = likely_of(athlete, part)
    if found is None or not np.isfinite(found.heart_rate).any():
        return None
    return LikelyShown(
        sensor=found.sensor,
        chart_id=f"likely-spec-{part.pk}",
        chart=charts.likely_trace(found.heart_rate, found.low, found.middle, found.high),
        rates=_rates(found),
        bands=_bands(found),
        pairs=found.pairs,
        missing_seconds=found.missing_seconds,
    )


def _rates(found: LikelyPart) -> list[Line]:
    recorded = np.sort(found.heart_rate[np.isfinite(found.heart_rate)])
    peak = recorded[-min(int(PEAK_SECONDS), len(recorded))]
    return [
        _line("mean", "bpm", float(recorded.mean()), found.rates.mean),
        _line("peak", "bpm", float(peak), found.rates.peak, f"reached for {PEAK_SECONDS:.0f} s in all"),
    ]


def _bands(found: LikelyPart) -> list[Line]:
    physiology = found.physiology
    reserve = physiology.maximum - physiology.resting
    percent = 100 * (found.heart_rate - physiology.resting) / reserve
    lines = []
    for place, (name, low, high) in enumerate(INTENSITY_BANDS):
        minutes = float(np.sum((percent >= low) & (percent < high)) / 60)
        rates = [physiology.resting + edge / 100 * reserve for edge in (low, high)]
        lines.append(_line(name, "min", minutes, found.rates.minutes_in_band[:, place], _from_to(*rates)))
    return lines


def _line(label: str, unit: str, recorded: float, draws: FloatArray, note: str = "") -> Line:
    low, median, high = (f"{value:.0f}" for value in interval(draws))
    between = low if low == high else f"{low}–{high}"
    return Line(label, unit, f"{recorded:.0f}", median, between, note)


def _from_to(low: float, high: float) -> str:
    if math.isinf(low):
        return f"below {high:.0f} bpm"
    return f"from {low:.0f} bpm" if math.isinf(high) else f"{low:.0f} to {high:.0f} bpm"
