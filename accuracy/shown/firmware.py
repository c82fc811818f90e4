"""What versions of a firmware changed, in words and as rows with a drawn interval."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from accuracy import words
from accuracy.core.agreement.firmware_history import (
    FEWEST_PAIRS,
    FirmwareHistory,
    VersionChange,
    VersionError,
)
from accuracy.shown.bars import Bar, bars
from trainlog.models import Sensor
from trainlog.web.words import DASH, signed

NOTEWORTHY = 5.0
"""Points of per cent between two versions below which a crowded page says nothing (ours)."""


@dataclass(frozen=True)
class VersionLine:
    """One version: how the sensor read under it, and what came of the change to it."""

    version: str
    since: date | None
    pairs: int
    reading: str
    interval: str
    bar: Bar
    change: str


def brief(history: FirmwareHistory) -> str:
    """What the newest version changed, in a few words; empty where there is nothing to say."""
    before, after = history.versions[-2:]
    change = history.changes[-1]
    apart = abs(words.per_cent_off(after.ratio) - words.per_cent_off(before.ratio))
    if apart < NOTEWORTHY and not (change and change.is_clear):
        return ""
    sure = "clear" if change and change.is_clear else "may be chance" if change else "few pairs"
    return f"{words.off(before.ratio)} up to {_named(before)}, {words.off(after.ratio)} since ({sure})"


def lines(history: FirmwareHistory, sensor: Sensor) -> list[VersionLine]:
    """Rows of all versions, oldest first, their bars on one scale."""
    days = {row.version: row.from_day for row in sensor.firmware.all()}
    spans = [_span(one) for one in history.versions]
    changes = [None, *history.changes]
    return [
        VersionLine(
            _named(one),
            days.get(one.version),
            one.pairs,
            words.reading(one.ratio),
            words.reading_range(one.low, one.high) if math.isfinite(one.low) else DASH,
            bar,
            _changed(changes[place]) if place else "",
        )
        for place, (one, bar) in enumerate(zip(history.versions, bars(spans), strict=True))
    ]


def _changed(change: VersionChange | None) -> str:
    if change is None:
        return f"too few pairs: a change is judged from {FEWEST_PAIRS} on either side"
    # The ratio is of the reference's load: what it gains, the sensor loses.
    low, middle, high = (words.per_cent_off(end) for end in (change.high, change.factor, change.low))
    found = "clearly changed" if change.is_clear else "no change shown"
    way = "higher" if middle > 0 else "lower"
    p = "< 0.001" if change.adjusted_p < 0.001 else f"{change.adjusted_p:.2g}"
    return (
        f"{found}: {abs(middle):.0f}% {way} than before, 95% interval {_points(low)} to {_points(high)} "
        f"(p {p}, adjusted for the sensor’s activities)"
    )


def _points(per_cent: float) -> str:
    return f"{signed(per_cent, 0)}%"


def _span(one: VersionError) -> Sequence[float]:
    middle = words.per_cent_off(one.ratio)
    if not math.isfinite(one.low):
        return middle, middle, middle
    return words.per_cent_off(one.high), middle, words.per_cent_off(one.low)


def _named(one: VersionError) -> str:
    return one.version or "a version not noted"
