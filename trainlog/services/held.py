"""What a span of days held: loads, hours and what they rest on, in figures that add up over spans."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from trainlog.load.draws import DRAWS, relative_half_width
from trainlog.load.session_rpe import session_rpe_load
from trainlog.load.week import PartLoad, Total, total
from trainlog.models import Basis, Confidence, Family
from trainlog.services.lines import PartLine, load_of
from trainlog.trace import FloatArray

COUNTED = (
    "estimated",
    "rated",
    "session-RPE load",
    *(f"parts {family}" for family in Family.values),
    *(f"seconds {family}" for family in Family.values),
    *(f"basis {basis}" for basis in Basis.values),
    *(f"confidence {confidence}" for confidence in Confidence.values),
)
"""What is counted of a span: estimated and rated parts, then parts and seconds per family, then the sum of
medians per basis and confidence."""

PLACE = {name: place for place, name in enumerate(COUNTED)}

KINDS_OF_DOUBT = 3
"""All doubt, the sensor's alone, the physiology's alone."""


@dataclass(frozen=True)
class BasisShare:
    """Share of a load that has one basis, in per cent of the sum of medians."""

    basis: str
    label: str
    per_cent: float


@dataclass(frozen=True)
class ConfidenceShare:
    """Share of a load that is known with one confidence, in per cent of the sum of medians."""

    confidence: str
    label: str
    per_cent: float


@dataclass(frozen=True)
class FamilyCount:
    """Parts of one family in a span, and their length."""

    family: str
    label: str
    parts: int
    seconds: int


@dataclass(frozen=True, eq=False)
class Held:
    """What a span of days held; ``+`` joins two spans.

    Attributes
    ----------
    draws : array, shape (3, DRAWS)
        Sum of loads with all doubt, the sensor's alone and the physiology's alone.
    counts : array, shape (len(COUNTED),)
        See ``COUNTED``.
    """

    draws: FloatArray
    counts: FloatArray

    def __add__(self, other: Held) -> Held:
        """What both spans held together."""
        return Held(self.draws + other.draws, self.counts + other.counts)

    def counted(self, name: str) -> float:
        """One of ``COUNTED``."""
        return float(self.counts[PLACE[name]])

    @property
    def total(self) -> Total | None:
        """Load with its intervals; None where no part has an estimate."""
        return total([PartLoad(*self.draws)]) if self.counted("estimated") else None

    @property
    def confidence(self) -> str:
        """Confidence in the load, in words; empty where there is none."""
        if not self.counted("estimated"):
            return ""
        return str(Confidence.of(relative_half_width(self.draws[1])).label)

    @property
    def parts(self) -> int:
        """How many parts there were, estimated or not."""
        return sum(count.parts for count in self.families)

    @property
    def hours(self) -> float:
        """Their length."""
        return sum(count.seconds for count in self.families) / 3600

    @property
    def rated_parts(self) -> int:
        """How many of them have a session-RPE."""
        return int(self.counted("rated"))

    @property
    def session_rpe_load(self) -> float | None:
        """Rating times minutes, summed; None where no part is rated."""
        return self.counted("session-RPE load") if self.rated_parts else None

    @property
    def families(self) -> list[FamilyCount]:
        """Parts and length of each family that occurs."""
        return [
            FamilyCount(
                family.value,
                str(family.label),
                int(self.counted(f"parts {family}")),
                round(self.counted(f"seconds {family}")),
            )
            for family in Family
            if self.counted(f"parts {family}")
        ]

    @property
    def shares(self) -> list[BasisShare]:
        """Share of the load by basis."""
        return [BasisShare(*share) for share in self._shares("basis", Basis)]

    @property
    def shares_by_confidence(self) -> list[ConfidenceShare]:
        """Share of the load by the confidence of the parts."""
        return [ConfidenceShare(*share) for share in self._shares("confidence", Confidence)]

    def _shares(self, of: str, kinds: type[Basis] | type[Confidence]) -> list[tuple[str, str, float]]:
        medians = {kind: self.counted(f"{of} {kind.value}") for kind in kinds}
        whole = sum(medians.values())
        return [
            (kind.value, str(kind.label), 100 * median / whole) for kind, median in medians.items() if median
        ]


def nothing() -> Held:
    """What a span without a workout held."""
    return Held(np.zeros((KINDS_OF_DOUBT, DRAWS)), np.zeros(len(COUNTED)))


def held_in(lines: Iterable[PartLine]) -> Held:
    """What parts held together."""
    held = nothing()

    def count(name: str, amount: float = 1) -> None:
        held.counts[PLACE[name]] += amount

    for line in lines:
        part, estimate = line.part, line.estimate
        count(f"parts {part.activity.family}")
        count(f"seconds {part.activity.family}", part.seconds)
        if part.session_rpe is not None:
            count("rated")
            count("session-RPE load", session_rpe_load(part.session_rpe, part.seconds / 60))
        if estimate is not None:
            count("estimated")
            count(f"basis {estimate.basis}", estimate.median)
            count(f"confidence {estimate.confidence}", estimate.median)
            load = load_of(estimate)
            held.draws[:] += (load.all_doubt, load.sensor_doubt, load.physiology_doubt)
    return held
