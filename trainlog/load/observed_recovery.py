"""When the morning figures were back inside the usual band after a session, and how that fits the estimate.

Mornings come once a day, so the hours are known only between two bounds: after the last morning outside the
band and by the first one inside it. It is an observation of resting heart rate and its variability, not of
muscle or mood, and a figure may leave the band for other reasons than training.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from trainlog.load.hrv import WORTHWHILE_SHARE, usual_band
from trainlog.trace import FloatArray

STANDARD_DEVIATIONS = 1.0
"""Half-width of the band for one morning, in standard deviations of the mornings before.

Kiviniemi AM, Hautala AJ, Kinnunen H, Tulppo MP (2007), Eur J Appl Physiol 101:743-751, held single mornings
against the mean less one standard deviation: from memory. The half that bounds a mean of seven mornings would
call every third usual morning low."""

Fit = Literal["earlier", "within", "later"]


@dataclass(frozen=True)
class MorningAfter:
    """One morning after a session.

    Attributes
    ----------
    hours : float
        Since the session ended.
    inside : bool
        Whether every figure noted lay inside the athlete's own band for one morning, or on its better side.
    """

    hours: float
    inside: bool


@dataclass(frozen=True)
class Observed:
    """Hours after which the figures were back.

    Attributes
    ----------
    after : float
        They were not back yet then; 0 where the first morning was inside.
    by : float
        They were back by then; infinite where the next session began, or notes end, before they were.
    """

    after: float
    by: float

    def against(self, low: float, high: float) -> Fit:
        """Where the observation lies against an estimated range of hours.

        Parameters
        ----------
        low, high : float
            Bounds of the estimate in hours.

        Returns
        -------
        str
            "earlier" where the figures were back before the range began, "later" where they were not back
            at its end, else "within": the two are in keeping.

        Examples
        --------
        >>> Observed(14.0, 38.0).against(24.0, 48.0)
        'within'
        >>> Observed(62.0, float("inf")).against(24.0, 48.0)
        'later'
        """
        if self.by < low:
            return "earlier"
        return "later" if self.after > high else "within"


def morning_bounds(before: FloatArray) -> tuple[float, float] | None:
    """Bounds between which one morning's figure is usual.

    Parameters
    ----------
    before : array, shape (days,)
        The figure on the mornings before, NaN where it was not noted.

    Returns
    -------
    tuple of float or None
        Lower and upper bound in the figure's unit; None for fewer mornings than a usual band needs.
    """
    band = usual_band(before)
    if band is None:
        return None
    deviation = (band.high - band.low) / (2 * WORTHWHILE_SHARE)
    return band.mean - STANDARD_DEVIATIONS * deviation, band.mean + STANDARD_DEVIATIONS * deviation


def observed_recovery(mornings: Sequence[MorningAfter], until: float = np.inf) -> Observed | None:
    """When the morning figures were back after a session.

    Parameters
    ----------
    mornings : sequence of MorningAfter
        In any order.
    until : float
        Hours at which the next session began: later mornings tell of that one.

    Returns
    -------
    Observed or None
        None where no morning lies between the two sessions.

    Examples
    --------
    >>> observed_recovery([MorningAfter(14, False), MorningAfter(38, True), MorningAfter(62, False)])
    Observed(after=14, by=38)
    """
    seen = sorted((one for one in mornings if 0 <= one.hours <= until), key=lambda one: one.hours)
    if not seen:
        return None
    outside: float = 0.0
    for one in seen:
        if one.inside:
            return Observed(outside, one.hours)
        outside = one.hours
    return Observed(outside, np.inf)
