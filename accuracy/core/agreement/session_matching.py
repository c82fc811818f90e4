"""One-to-one matching of sessions in which two sensors were not worn together."""

from __future__ import annotations

import math
from collections.abc import Hashable, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import linear_sum_assignment

INTENSITY_BOUND = 10.0
"""Points of heart-rate reserve by which the reference's means of two matched sessions may differ (ours)."""

LENGTH_BOUND = 1.5
"""Factor by which the lengths of two matched sessions may differ (ours)."""


@dataclass(frozen=True)
class Candidate:
    """A session by what it is matched on.

    Attributes
    ----------
    kind : hashable
        Matched exactly: the activity.
    intensity : float
        Mean of the reference in per cent of heart-rate reserve.
    minutes : float
        Common time.
    """

    kind: Hashable
    intensity: float
    minutes: float


@dataclass(frozen=True)
class Match:
    """Places of two matched sessions in what was given.

    ``distance`` is 0 for sessions alike and at most √2: the root of the squared difference in intensity
    over its bound, plus the squared logarithm of the ratio of lengths over that of its bound.
    """

    first: int
    second: int
    distance: float


def match_sessions(first: Sequence[Candidate], second: Sequence[Candidate]) -> list[Match]:
    """Match each session of one sensor with at most one of another's.

    Parameters
    ----------
    first, second : sequence of Candidate
        Sessions of each sensor.

    Returns
    -------
    list of Match
        As many as the bounds allow, and of those the set with the least sum of distances; in the order of
        ``first``. Sessions without a match are in none.

    References
    ----------
    Rosenbaum PR (1989). Optimal matching for observational studies. J Am Stat Assoc 84:1024-1032.
    Solved by scipy.optimize.linear_sum_assignment.
    """
    if not first or not second:
        return []
    apart = np.array([[_distance(one, other) for other in second] for one in first])
    # Dearer than all allowed matches together, so that one match more always pays.
    forbidden = 2.0 * (min(apart.shape) + 1)
    rows, columns = linear_sum_assignment(np.where(np.isfinite(apart), apart, forbidden))
    return [
        Match(int(row), int(column), float(apart[row, column]))
        for row, column in zip(rows, columns, strict=True)
        if math.isfinite(apart[row, column])
    ]


def _distance(one: Candidate, other: Candidate) -> float:
    """Distance of two sessions; infinite where they may not be matched."""
    if one.kind != other.kind or min(one.minutes, other.minutes) <= 0:
        return math.inf
    intensity = abs(one.intensity - other.intensity) / INTENSITY_BOUND
    length = abs(math.log(one.minutes / other.minutes)) / math.log(LENGTH_BOUND)
    # NaN, where no intensity is known, compares false.
    within = intensity <= 1 + 1e-9 and length <= 1 + 1e-9
    return math.hypot(intensity, length) if within else math.inf
