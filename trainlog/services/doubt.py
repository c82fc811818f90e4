"""Which parts make most of the sensor doubt of a week or a block."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from trainlog.load.week import Total, main_doubt
from trainlog.models import Basis, Part
from trainlog.services.lines import PartLine, load_of

KNOWN_ENOUGH = 0.03
"""Sensor doubt of a sum below which it is not asked where the doubt comes from."""


@dataclass(frozen=True)
class DoubtfulPart:
    """A part that makes much of a sum's sensor doubt, and how much, in per cent."""

    part: Part
    per_cent: float


@dataclass(frozen=True)
class WeekDoubt:
    """What makes most of a sum's sensor doubt, and what a strap there would have left of it."""

    parts: Sequence[DoubtfulPart]
    half_width: float
    half_width_if_measured: float

    @property
    def per_cent(self) -> float:
        """Share of all of them together."""
        return sum(one.per_cent for one in self.parts)


def main_doubt_of(lines: Iterable[PartLine], whole: Total | None) -> WeekDoubt | None:
    """The one to three unmeasured parts that make most of the sensor doubt of their sum.

    Parameters
    ----------
    lines : iterable of PartLine
        All parts of the sum.
    whole : Total or None
        The sum.

    Returns
    -------
    WeekDoubt or None
        None where the sum is known well enough, is most likely nothing, no part stands out, or a strap
        would have changed nothing.
    """
    if whole is None or not KNOWN_ENOUGH <= whole.sensor_half_width < math.inf:
        return None
    known = [(line.part, line.estimate) for line in lines if line.estimate]
    found = main_doubt(
        [load_of(estimate) for _, estimate in known],
        [estimate.basis == Basis.MEASURED for _, estimate in known],
    )
    if found is None or math.isinf(found.half_width_if_measured):
        return None
    if round(100 * found.half_width_if_measured) >= round(100 * whole.sensor_half_width):
        return None
    return WeekDoubt(
        [
            DoubtfulPart(known[place][0], 100 * share)
            for place, share in zip(found.parts, found.shares, strict=True)
        ],
        whole.sensor_half_width,
        found.half_width_if_measured,
    )
