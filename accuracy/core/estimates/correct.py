"""From what was recorded of a part, and what was learned, to draws of its load."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import special

from accuracy.core.learning.profile import DEGREES_OF_FREEDOM
from trainlog.load.draws import session_seed, stratified_uniforms
from trainlog.load.physiology import PhysiologyDraws
from trainlog.load.week import PartLoad
from trainlog.trace import FloatArray

REFERENCE_ERROR = 0.01
"""Log scale of a chest strap's own error in load. Straps agree with an electrocardiogram at a concordance
of 0.996 (Gillinov 2017, Med Sci Sports Exerc 49); its size in load: common practice, no source."""

GAP_DOUBT = 0.35
"""Log scale of the load a missing minute held against a recorded minute of the same part (common
practice, no source)."""

LEAST_RECORDED = 0.5
"""Share of a part below which its recording says too little to rest a load on (common practice,
no source)."""

MEASURED_SHARE = 0.9
"""Share of a part that the reference must cover for its load to count as measured."""


@dataclass(frozen=True, eq=False)
class Recorded:
    """What one recording holds of a part.

    Attributes
    ----------
    seconds_at_rate : array, shape (256,)
        Histogram of the valid seconds.
    seconds, valid_seconds : int
        Length of the part, and how much of it is valid.
    content : str
        Content hash of the recording and part; seeds what is peculiar to the session.
    """

    seconds_at_rate: FloatArray
    seconds: int
    valid_seconds: int
    content: str

    @property
    def share(self) -> float:
        """Share of the part that is valid."""
        return self.valid_seconds / self.seconds

    @property
    def missing_seconds(self) -> int:
        """Seconds whose load has to be drawn."""
        return max(self.seconds - self.valid_seconds, 0)


def gap_factor(recorded: Recorded) -> FloatArray:
    """Draws of the whole part's load over the load of its valid seconds, shape (DRAWS,).

    A missing second held some load, not none: about as much as a recorded one, give or take
    ``GAP_DOUBT`` on the log scale.
    """
    if recorded.valid_seconds == 0:
        raise ValueError("a part without one valid second has no load to go by")
    uniforms = stratified_uniforms(session_seed(recorded.content, "gap"))
    missing = recorded.missing_seconds / recorded.valid_seconds
    return 1 + missing * np.exp(GAP_DOUBT * special.ndtri(uniforms))


def gap_share(recorded: Recorded, log_ratio: FloatArray) -> float:
    """Share of the variance of a load's log that its missing seconds make, 0 to 1.

    Parameters
    ----------
    recorded : Recorded
    log_ratio : array, shape (DRAWS,)
        Draws of the log of true load over recorded load, of the recorded seconds.
    """
    of_gaps = float(np.var(np.log(gap_factor(recorded))))
    whole = of_gaps + float(np.var(log_ratio))
    return of_gaps / whole if whole > 0 else 0.0


def reference_factor(recorded: Recorded) -> FloatArray:
    """Draws of true load over the load that a reference recorded, shape (DRAWS,)."""
    chance = special.stdtrit(
        DEGREES_OF_FREEDOM, stratified_uniforms(session_seed(recorded.content, "reference"))
    )
    return np.exp(REFERENCE_ERROR * chance) * gap_factor(recorded)


def as_it_stands(log_ratio: FloatArray) -> FloatArray:
    """Draws of a log ratio moved so that their median is no correction at all.

    The shift that is not made is owed as doubt: the spread about the median grows until its mean
    square about zero is that of the draws given.
    """
    centre = float(np.median(log_ratio))
    around = log_ratio - centre
    spread = float(np.mean(around**2))
    return around * np.sqrt(1 + centre**2 / spread) if spread > 0 else around


def recorded_load(recorded: Recorded, factor: FloatArray, physiology: PhysiologyDraws) -> PartLoad:
    """Load of a recording, in the three vectors of an estimate.

    Parameters
    ----------
    recorded : Recorded
    factor : array, shape (DRAWS,)
        True load over recorded load: the sensor's doubt.
    physiology : PhysiologyDraws
    """
    under_draws = physiology.load_draws(recorded.seconds_at_rate)
    central = physiology.central_load(recorded.seconds_at_rate)
    return PartLoad(under_draws * factor, central * factor, under_draws * np.median(factor))


def unrecorded_load(
    base: float, factor: FloatArray, typical_seconds_at_rate: FloatArray, physiology: PhysiologyDraws
) -> PartLoad:
    """Load of a part without a usable recording, in the three vectors of an estimate.

    Parameters
    ----------
    base : float
        Session-RPE load or minutes: what the factor multiplies.
    factor : array, shape (DRAWS,)
        Load over base, learned at the central physiology.
    typical_seconds_at_rate : array, shape (256,)
        Histogram by which doubt of the physiology carries over: that of the athlete's own sessions.
    physiology : PhysiologyDraws
    """
    central = physiology.central_load(typical_seconds_at_rate)
    relative = (
        physiology.load_draws(typical_seconds_at_rate) / central if central > 0 else np.ones_like(factor)
    )
    return PartLoad(base * factor * relative, base * factor, base * np.median(factor) * relative)
