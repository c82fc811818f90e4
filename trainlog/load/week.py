"""Sums of loads and their comparison: arithmetic on draws, whatever they came from."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from trainlog.load.draws import (
    DRAWS,
    half_width_over_median,
    interval,
    intervals,
    probability_greater,
    relative_half_width,
    rounded_probability,
)
from trainlog.trace import FloatArray

USUAL_WEEKS = 4
"""Weeks before this one that make up the usual week (common practice, no source)."""

LEAST_WEEKS = 2
"""Weeks with a load below which nothing is usual yet: one alone is the week before, or an exception."""

MOST_NAMED = 3
"""Parts that are named at most as those that make most of a sum's doubt."""

HALF = 0.5
"""Share of the doubt that is most of it."""

STANDS_OUT = 1.5
"""Times an even share of the doubt that a part makes to stand out where it does not make most of it."""


@dataclass(frozen=True)
class PartLoad:
    """One part's load in the three vectors of an estimate, each of shape (DRAWS,)."""

    all_doubt: FloatArray
    sensor_doubt: FloatArray
    physiology_doubt: FloatArray


@dataclass(frozen=True)
class Total:
    """Sum of loads.

    Attributes
    ----------
    low, median, high : float
        80% interval with all doubt.
    sensor_half_width, physiology_half_width : float
        Half-width of the 80% interval over the median, from each source of doubt alone.
    draws : array, shape (DRAWS,)
        The sum with all doubt, for comparisons.
    """

    low: float
    median: float
    high: float
    sensor_half_width: float
    physiology_half_width: float
    draws: FloatArray


@dataclass(frozen=True)
class PartDoubt:
    """What one part adds to the sensor's doubt of a sum.

    Attributes
    ----------
    share : float
        Its share of the variance, as in ``variance_shares``.
    half_width_if_measured : float
        Half-width of the 80% interval over the median that the sum would have, sensor doubt only, had this
        part been recorded with the reference; infinite where the median is zero.
    """

    share: float
    half_width_if_measured: float


@dataclass(frozen=True)
class MainDoubt:
    """The few parts that make most of a sum's sensor doubt.

    Attributes
    ----------
    parts : sequence of int
        Their places among the parts, the most doubtful first.
    shares : sequence of float
        Their shares of the variance, as in ``variance_shares``.
    half_width_if_measured : float
        As in ``PartDoubt``, had all of them been recorded with the reference.
    """

    parts: Sequence[int]
    shares: Sequence[float]
    half_width_if_measured: float


@dataclass(frozen=True)
class Comparison:
    """This week against another.

    Attributes
    ----------
    per_cent_likely : int
        Probability that this one is higher, in per cent to the nearest 5.
    low, high : float
        80% interval of the change, in per cent of the other.
    """

    per_cent_likely: int
    low: float
    high: float


def total(loads: Sequence[PartLoad]) -> Total | None:
    """Sum parts draw by draw, so that what sessions share stays shared.

    Parameters
    ----------
    loads : sequence of PartLoad
        In any order.

    Returns
    -------
    Total or None
        None for no parts: there is no interval around nothing.
    """
    if not loads:
        return None
    sums = np.sum([(load.all_doubt, load.sensor_doubt, load.physiology_doubt) for load in loads], axis=0)
    everything, sensor, physiology = intervals(sums)
    return Total(*everything, half_width_over_median(sensor), half_width_over_median(physiology), sums[0])


def compare(this: Total | None, other: Total | None) -> Comparison | None:
    """Probability that this sum exceeds the other, and the likely range of the change.

    Returns
    -------
    Comparison or None
        None where the other is nothing: a change in per cent of nothing has no meaning.
    """
    if other is None:
        return None
    return compare_draws(this.draws if this else np.zeros(DRAWS), other.draws)


def compare_draws(mine: FloatArray, other: FloatArray) -> Comparison | None:
    """Probability that one load exceeds another, and the likely range of the change.

    Parameters
    ----------
    mine, other : array, shape (DRAWS,)
        Loads of any two stretches of time, in the same unit.

    Returns
    -------
    Comparison or None
        None where the other may be nothing: a change in per cent of nothing has no meaning.
    """
    return None if np.any(other <= 0) else _comparison(mine, other)


def usual(before: Sequence[Total | None]) -> FloatArray | None:
    """Load of the athlete's usual week: the mean of up to four weeks before this one, draw by draw.

    Parameters
    ----------
    before : sequence of Total or None
        The weeks before this one, the latest first; None for a week of rest, which counts as nothing.
        Weeks beyond the fourth are not looked at, and weeks from before the log are not to be given.

    Returns
    -------
    array, shape (DRAWS,), or None
        In the unit of the load; None where fewer than two of the weeks have a load.

    Examples
    --------
    >>> usual([None, None, None]) is None
    True
    """
    weeks = before[:USUAL_WEEKS]
    trained = [week.draws for week in weeks if week]
    return np.sum(trained, axis=0) / len(weeks) if len(trained) >= LEAST_WEEKS else None


def compare_with_usual(this: Total | None, before: Sequence[Total | None]) -> Comparison | None:
    """Probability that this week exceeds the usual one, and the likely range of the difference.

    Parameters
    ----------
    this : Total or None
        This week; None for a week of rest.
    before : sequence of Total or None
        As in ``usual``.

    Returns
    -------
    Comparison or None
        None where nothing is usual yet, or the usual week may have been nothing.
    """
    usual_draws = usual(before)
    if usual_draws is None or np.any(usual_draws <= 0):
        return None
    return _comparison(this.draws if this else np.zeros(DRAWS), usual_draws)


def variance_shares(parts: FloatArray) -> FloatArray:
    """Share of the variance of a sum that each of its parts contributes.

    Parameters
    ----------
    parts : array, shape (parts, DRAWS)
        Draws of each part, with the doubt in question (the sensor's, or all).

    Returns
    -------
    array, shape (parts,)
        Covariance of the part with the sum over the variance of the sum. They add up to 1; doubt that
        parts share is split between them, and a part that moves against the others has a negative share.
        All 0 where the sum is certain.

    Examples
    --------
    >>> variance_shares(np.array([[0.0, 2.0, 0.0, 2.0], [0.0, 0.0, 4.0, 4.0]]))
    array([0.2, 0.8])
    """
    around = parts - parts.mean(axis=1, keepdims=True)
    of_sum = around.sum(axis=0)
    variance = float(of_sum @ of_sum)
    # Rounding leaves a certain sum a variance a little above nothing.
    certain = variance <= 1e-24 * float(np.sum(parts.mean(axis=1)) ** 2) * parts.shape[1]
    return np.zeros(len(parts)) if certain else around @ of_sum / variance


def doubt_by_part(loads: Sequence[PartLoad]) -> list[PartDoubt]:
    """What each part adds to the sensor's doubt of their sum, and what measuring it would leave.

    The doubt of resting and maximum heart rate is left aside: no strap removes it.

    Parameters
    ----------
    loads : sequence of PartLoad
        Parts of a week, or of any sum.

    Returns
    -------
    list of PartDoubt
        One for each part, in the same order. A measured part stands at the mean of its draws, for want
        of the value the strap would have shown; that the strap would also have taught something about
        the other sessions is not counted.

    Examples
    --------
    >>> vectors = [np.array([90.0, 110.0, 90.0, 110.0]), np.full(4, 50.0)]
    >>> [doubt.share for doubt in doubt_by_part([PartLoad(one, one, one) for one in vectors])]
    [1.0, 0.0]
    """
    if not loads:
        return []
    sensor = np.stack([load.sensor_doubt for load in loads])
    everything = sensor.sum(axis=0)
    return [
        PartDoubt(float(share), relative_half_width(everything - part + part.mean()))
        for share, part in zip(variance_shares(sensor), sensor, strict=True)
    ]


def main_doubt(loads: Sequence[PartLoad], measured: Sequence[bool]) -> MainDoubt | None:
    """Find the few unmeasured parts that make most of the sensor's doubt of a sum.

    Parameters
    ----------
    loads : sequence of PartLoad
        Parts of a week, or of any sum.
    measured : sequence of bool
        Which of them were recorded with the reference: those are never named.

    Returns
    -------
    MainDoubt or None
        The fewest parts, three at most, that make more than half of the doubt. None where there are no
        such parts or none stands out: the first has to make more than half by itself, or half as much
        again as an even share of the unmeasured parts, and each further one an even share.

    Examples
    --------
    >>> vectors = [np.array([90.0, 110.0, 90.0, 110.0]), np.full(4, 50.0)]
    >>> main_doubt([PartLoad(one, one, one) for one in vectors], [False, False]).parts
    [0]
    """
    shares = [doubt.share for doubt in doubt_by_part(loads)]
    unmeasured = [place for place, known in enumerate(measured) if not known]
    candidates = sorted(unmeasured, key=lambda place: -shares[place])[:MOST_NAMED]
    named: list[int] = []
    while candidates and sum(shares[place] for place in named) <= HALF:
        named.append(candidates.pop(0))
    together = sum(shares[place] for place in named)
    if not named or together <= HALF or not _stand_out([shares[place] for place in named], len(unmeasured)):
        return None
    joined = PartLoad(
        *(
            np.sum([getattr(loads[place], kind) for place in named], axis=0)
            for kind in ("all_doubt", "sensor_doubt", "physiology_doubt")
        )
    )
    others = [load for place, load in enumerate(loads) if place not in named]
    return MainDoubt(
        named, [shares[place] for place in named], doubt_by_part([joined, *others])[0].half_width_if_measured
    )


def _stand_out(shares: Sequence[float], among: int) -> bool:
    first, *others = shares
    return (first > HALF or first * among >= STANDS_OUT) and all(share * among >= 1 for share in others)


def _comparison(mine: FloatArray, other: FloatArray) -> Comparison:
    low, _, high = interval(100 * (mine / other - 1))
    return Comparison(rounded_probability(probability_greater(mine, other)), low, high)
