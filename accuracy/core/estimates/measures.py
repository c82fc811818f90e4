"""Loads by zones, session-RPE where nobody rated, and time by intensity, all from the draws of one part.

What a minute counts in a zone is one for every edge that its rate reaches, so all of these are sums of
shares at or above edges. The edges move with the draws of maximum and resting rate and of the thresholds;
the shares with the draws of the sensor's doubt, so draw k here belongs to draw k of the training impulse.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from accuracy.core.estimates.rate_shares import MovedShares, RateShares
from accuracy.core.estimates.rate_shift import RateCounts, shift_to_load
from trainlog.load.draws import DRAWS
from trainlog.load.intensity import BANDS_OF_MAXIMUM, BANDS_OF_RESERVE
from trainlog.load.physiology import PhysiologyDraws
from trainlog.load.session_rpe import HIGHEST_RATING
from trainlog.load.trimp import RATES
from trainlog.load.week import PartLoad
from trainlog.load.zones import SUMMATED_ZONE_EDGES
from trainlog.trace import FloatArray

TYPICAL_MIDDLE, TYPICAL_SPREAD = 0.55, 0.12
"""Mean and standard deviation, as fractions of heart-rate reserve, of the rates of a session before any was
measured (common practice, no source)."""


@dataclass(frozen=True, eq=False)
class PartTime:
    """How the time of a part was spent.

    Attributes
    ----------
    shares : RateShares
    minutes : array, shape (DRAWS,)
        Minutes whose load counts: the recorded ones, and what the missing ones are worth.
    length : float
        Minutes from start to end.
    """

    shares: RateShares
    minutes: FloatArray
    length: float


def summated_zones(time: PartTime, physiology: PhysiologyDraws) -> PartLoad:
    """Edwards' summated-zone load, in the three vectors of an estimate.

    Parameters
    ----------
    time : PartTime
    physiology : PhysiologyDraws

    References
    ----------
    See ``trainlog.load.zones.summated_zones_per_minute``.
    """
    fractions = np.array(SUMMATED_ZONE_EDGES) / 100
    return _load(time, fractions * physiology.maximum_draws[:, None], fractions * physiology.maximum, 0.0)


def three_zones(time: PartTime, physiology: PhysiologyDraws) -> PartLoad:
    """Lucia's load of three zones, in the three vectors of an estimate.

    Parameters
    ----------
    time : PartTime
    physiology : PhysiologyDraws

    References
    ----------
    See ``trainlog.load.zones.three_zones_per_minute``.
    """
    return _load(time, physiology.threshold_draws, physiology.thresholds, 1.0)


def _load(time: PartTime, drawn: FloatArray, central: FloatArray, least: float) -> PartLoad:
    """Load that counts ``least`` a minute, and one more for every edge that is reached."""

    def a_minute(shares: RateShares, edges: FloatArray) -> FloatArray:
        return least + np.broadcast_to(shares.edges_reached(edges), DRAWS)

    return PartLoad(
        time.minutes * a_minute(time.shares, drawn),
        time.minutes * a_minute(time.shares, central),
        np.median(time.minutes) * a_minute(time.shares.middle(), drawn),
    )


def session_rpe_from_load(impulse: FloatArray, log_ratio: FloatArray, minutes: float) -> PartLoad:
    """Session-RPE load that nobody rated, from the training impulse.

    Parameters
    ----------
    impulse : array, shape (DRAWS,)
        Training impulse with the sensor's doubt alone.
    log_ratio : array, shape (DRAWS,)
        Log of training impulse over session-RPE load, as learned where both were there.
    minutes : float
        Length of the part.

    Returns
    -------
    PartLoad
        No more than the highest rating throughout. The athlete's maximum and resting rate add no doubt: they
        are in what was learned as in the impulse.
    """
    load = np.minimum(impulse * np.exp(-log_ratio), HIGHEST_RATING * minutes)
    return PartLoad(load, load, np.full(DRAWS, np.median(load)))


def rated_load(load: float) -> PartLoad:
    """Session-RPE load as rated: a rating is what it is."""
    return PartLoad(*np.full((3, DRAWS), load))


def minutes_in_bands(time: PartTime, physiology: PhysiologyDraws) -> FloatArray:
    """Minutes of the whole part in each of ``intensity.BANDS_OF_RESERVE``, shape (DRAWS, 5), all doubt."""
    percents = np.array([low for _, low, _ in BANDS_OF_RESERVE[1:]])
    resting, maximum = physiology.resting_draws[:, None], physiology.maximum_draws[:, None]
    return _between(time, resting + percents / 100 * (maximum - resting))


def minutes_in_bands_of_maximum(time: PartTime, physiology: PhysiologyDraws) -> FloatArray:
    """Minutes of the whole part in each of ``intensity.BANDS_OF_MAXIMUM``, shape (DRAWS, 5), all doubt."""
    percents = np.array([low for _, low, _ in BANDS_OF_MAXIMUM[1:]])
    return _between(time, percents / 100 * physiology.maximum_draws[:, None])


def minutes_in_domains(time: PartTime, physiology: PhysiologyDraws) -> FloatArray:
    """Minutes of the whole part in each of ``intensity.DOMAINS``, shape (DRAWS, 3), all doubt."""
    return _between(time, physiology.threshold_draws)


def _between(time: PartTime, edges: FloatArray) -> FloatArray:
    reaching = np.broadcast_to(time.shares.reaching(edges), edges.shape)
    nothing, all_of_it = np.zeros((DRAWS, 1)), np.ones((DRAWS, 1))
    falling = np.concatenate([all_of_it, reaching, nothing], axis=1)
    return time.length * np.maximum(-np.diff(falling, axis=1), 0.0)


def unrecorded_time(
    impulse: FloatArray, typical_seconds_at_rate: FloatArray, minutes: float, physiology: PhysiologyDraws
) -> PartTime:
    """How the time of a part without a usable recording was spent, if it was spent like the athlete's others.

    Parameters
    ----------
    impulse : array, shape (DRAWS,)
        Its training impulse, sensor doubt only.
    typical_seconds_at_rate : array, shape (256,)
        Histogram of the athlete's measured parts; all 0 where there is none.
    minutes : float
        Length of the part.
    physiology : PhysiologyDraws

    Returns
    -------
    PartTime
        The typical rates shifted, draw by draw, to have the impulse.
    """
    seconds = typical_seconds_at_rate if typical_seconds_at_rate.any() else _before_any(physiology)
    occupied = seconds > 0
    base = RateCounts(RATES[occupied], seconds[occupied] / seconds.sum() * 60 * minutes)
    as_it_is = np.ones(DRAWS)
    shift = shift_to_load(base, as_it_is, impulse, physiology)
    shares = MovedShares(base, 1.0, as_it_is, shift, 0.0, "", physiology.resting)
    return PartTime(shares, np.full(DRAWS, minutes), minutes)


def _before_any(physiology: PhysiologyDraws) -> FloatArray:
    """Histogram of a session before any was measured: normal within reach of a heart."""
    fraction = (RATES - physiology.resting) / (physiology.maximum - physiology.resting)
    density = np.exp(-0.5 * ((fraction - TYPICAL_MIDDLE) / TYPICAL_SPREAD) ** 2)
    return np.where((fraction > 0) & (fraction < 1), density, 0.0)
