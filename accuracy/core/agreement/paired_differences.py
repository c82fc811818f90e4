"""Differences between two sensors in a figure of the same sessions, with intervals over sessions."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np
from scipy import special

from trainlog.trace import FloatArray

FEWEST_SESSIONS = 3
"""Sessions below which no interval is given (ours): with two, it says nothing."""

MOST_ENUMERATED = 12
"""Sessions up to which every turn of signs is tried; with more, so many are drawn."""

DRAWN = 20_000
"""Turns of signs that are drawn."""

_SEED = 41


@dataclass(frozen=True)
class PairedDifference:
    """A figure of two sensors in the same or in matched sessions.

    Attributes
    ----------
    sessions : int
        Sessions with the figure of both.
    first, second : float
        Mean over the sessions of each sensor's figure, in the figure's unit.
    difference : float
        First less second.
    low, high : float
        Its 95% interval by Student's t over the sessions' differences; NaN below ``FEWEST_SESSIONS``.
    p : float
        Of the same t test, two-sided; NaN below ``FEWEST_SESSIONS``.
    sign_flip_p : float
        Two-sided, of turning the sign of each session's difference in every way; NaN below
        ``FEWEST_SESSIONS``. It assumes no normal differences, and cannot fall below 2 / 2^sessions.
    """

    sessions: int
    first: float
    second: float
    difference: float
    low: float = math.nan
    high: float = math.nan
    p: float = math.nan
    sign_flip_p: float = math.nan

    @property
    def has_interval(self) -> bool:
        """Whether there were sessions enough."""
        return math.isfinite(self.low)


def paired_difference(first: FloatArray, second: FloatArray) -> PairedDifference:
    """Compare a figure of two sensors, session by session: sessions, not seconds, are the sample.

    Parameters
    ----------
    first, second : array, shape (sessions,)
        The figure of each sensor in the same order of sessions; sessions with NaN in either are left out.

    Returns
    -------
    PairedDifference
        NaN throughout where no session has both.

    Raises
    ------
    ValueError
        If the two are not equally long.

    References
    ----------
    Student (1908). The probable error of a mean. Biometrika 6:1-25. Fisher RA (1935). The Design of
    Experiments, section 21: the test by turning signs.
    """
    if len(first) != len(second):
        raise ValueError("both sensors need a figure for each session")
    both = np.isfinite(first) & np.isfinite(second)
    x, y = np.asarray(first, dtype=float)[both], np.asarray(second, dtype=float)[both]
    n = len(x)
    if n == 0:
        return PairedDifference(0, math.nan, math.nan, math.nan)
    # In order of size, so that sums do not hang on the order of sessions.
    differences = np.sort(x - y)
    mean = float(differences.mean())
    if n < FEWEST_SESSIONS:
        return PairedDifference(n, float(x.mean()), float(y.mean()), mean)
    error = float(differences.std(ddof=1)) / math.sqrt(n)
    reach = float(special.stdtrit(n - 1, 0.975)) * error
    return PairedDifference(
        sessions=n,
        first=float(np.sort(x).mean()),
        second=float(np.sort(y).mean()),
        difference=mean,
        low=mean - reach,
        high=mean + reach,
        p=_t_test(mean, error, n),
        sign_flip_p=sign_flip_test(differences),
    )


def sign_flip_test(differences: FloatArray) -> float:
    """Two-sided p of a mean difference, by turning the sign of each difference.

    Parameters
    ----------
    differences : array, shape (sessions,)
        In any order.

    Returns
    -------
    float
        Share of the turns of signs whose mean is at least as far from zero: of all of them up to
        ``MOST_ENUMERATED`` sessions, of ``DRAWN`` by fixed seed beyond.
    """
    sized = np.sort(np.abs(differences))
    seen = abs(float(np.sum(differences)))
    n = len(sized)
    # What differs by rounding alone is as far.
    least = seen - 1e-9 * max(float(sized.sum()), 1e-300)
    if n <= MOST_ENUMERATED:
        signs = np.array(list(product((-1.0, 1.0), repeat=n)))
        return float((np.abs(signs @ sized) >= least).mean())
    signs = np.random.default_rng(_SEED).choice((-1.0, 1.0), size=(DRAWN, n))
    return float((1 + (np.abs(signs @ sized) >= least).sum()) / (1 + DRAWN))


def holm(p: Sequence[float]) -> list[float]:
    """P values adjusted for how many were looked at, so that one in twenty families errs at 0.05.

    Parameters
    ----------
    p : sequence of float
        NaN where nothing was tested; such are no part of the family.

    Returns
    -------
    list of float
        In the same order.

    References
    ----------
    Holm S (1979). A simple sequentially rejective multiple test procedure. Scand J Stat 6:65-70.
    """
    adjusted = [math.nan] * len(p)
    tested = sorted((value, place) for place, value in enumerate(p) if not math.isnan(value))
    largest = 0.0
    for rank, (value, place) in enumerate(tested):
        largest = max(largest, min(value * (len(tested) - rank), 1.0))
        adjusted[place] = largest
    return adjusted


def _t_test(mean: float, error: float, n: int) -> float:
    if error == 0:
        return 1.0 if mean == 0 else 0.0
    return float(2 * special.stdtr(n - 1, -abs(mean / error)))
