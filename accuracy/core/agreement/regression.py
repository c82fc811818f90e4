"""Proportional bias by regressions that know both sensors err, and correlation within sessions."""

from __future__ import annotations

import math
from dataclasses import asdict, dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import special

from accuracy.core.agreement.differences import plain
from trainlog.trace import FloatArray

MOST_POINTS = 600
"""Pairs above which Passing-Bablok, whose work grows with their square, is refused (ours)."""

FEWEST_SESSIONS = 3
"""Sessions below which no interval over sessions is given (ours): leaving one out must leave two."""


@dataclass(frozen=True)
class Line:
    """Tested as a line over the reference, with 95% intervals.

    Attributes
    ----------
    slope, intercept : float
        Slope without unit: 1 if there is no proportional bias; intercept in bpm.
    slope_interval, intercept_interval : tuple of float
        95% confidence intervals; pairs are taken as independent unless the fit says otherwise.
    """

    slope: float
    intercept: float
    slope_interval: tuple[float, float]
    intercept_interval: tuple[float, float]

    @property
    def proportional(self) -> bool:
        """Whether the interval of the slope leaves out 1."""
        low, high = self.slope_interval
        return bool(low > 1 or high < 1)

    def as_dict(self) -> dict:
        """Figures by name (intercepts in bpm), ready for JSON."""
        return plain({**asdict(self), "proportional": self.proportional})


@dataclass(frozen=True)
class RepeatedMeasuresCorrelation:
    """Correlation within groups, its degrees of freedom, two-sided p and 95% interval."""

    r: float
    degrees_of_freedom: int
    p: float
    interval: tuple[float, float]
    slope: float

    def as_dict(self) -> dict:
        """Figures by name, ready for JSON."""
        return plain(asdict(self))


def deming(reference: FloatArray, tested: FloatArray, *, error_ratio: float = 1.0) -> Line:
    """Deming regression of tested on reference, intervals by the jackknife.

    Parameters
    ----------
    reference, tested : array, shape (n,)
        Heart rate in bpm, without gaps.
    error_ratio : float
        Error variance of the tested over that of the reference; 1 treats both alike (orthogonal regression).

    Returns
    -------
    Line
        Intervals with Student's t on n - 2 degrees of freedom; NaN where the slope is not defined.

    Raises
    ------
    ValueError
        If there are fewer than three pairs or the ratio is not positive.

    References
    ----------
    Deming WE (1943). Statistical Adjustment of Data. Wiley.
    Linnet K (1990). Estimation of the linear relationship between the measurements of two methods with
    proportional errors. Stat Med 9:1463-1473 (jackknife).
    """
    n = _pairs(reference, tested)
    if error_ratio <= 0:
        raise ValueError("a ratio of variances is positive")
    x, y = reference - reference.mean(), tested - tested.mean()
    slope = float(_deming_slope(x @ x, y @ y, x @ y, error_ratio))
    intercept = float(tested.mean() - slope * reference.mean())
    shrink = n / (n - 1)
    slopes = _deming_slope(x @ x - shrink * x**2, y @ y - shrink * y**2, x @ y - shrink * x * y, error_ratio)
    mean_x = (n * reference.mean() - reference) / (n - 1)
    mean_y = (n * tested.mean() - tested) / (n - 1)
    intercepts = mean_y - slopes * mean_x
    t = float(special.stdtrit(n - 2, 0.975))

    def interval(estimate: float, left_out: FloatArray) -> tuple[float, float]:
        pseudo = n * estimate - (n - 1) * left_out
        reach = t * float(pseudo.std(ddof=1)) / math.sqrt(n)
        return estimate - reach, estimate + reach

    return Line(slope, intercept, interval(slope, slopes), interval(intercept, intercepts))


def _deming_slope(xx: FloatArray, yy: FloatArray, xy: FloatArray, error_ratio: float) -> FloatArray:
    apart = np.asarray(yy - error_ratio * xx)
    root = np.sqrt(apart**2 + 4 * error_ratio * np.asarray(xy) ** 2)
    defined = np.abs(xy) > 1e-12
    return np.where(defined, (apart + root) / np.where(defined, 2 * np.asarray(xy), 1.0), np.nan)


def passing_bablok(reference: FloatArray, tested: FloatArray) -> Line:
    """Passing and Bablok's regression: a shifted median of all pairwise slopes.

    Parameters
    ----------
    reference, tested : array, shape (n,)
        Heart rate in bpm, without gaps; at most ``MOST_POINTS`` pairs (take epochs of 30 s or 60 s).

    Returns
    -------
    Line
        Slopes of -1 and of two equal points are left out, as in the paper; NaN if nothing is left.

    Raises
    ------
    ValueError
        If there are fewer than three pairs or more than ``MOST_POINTS``.

    References
    ----------
    Passing H, Bablok W (1983). J Clin Chem Clin Biochem 21:709-720.
    """
    n = _pairs(reference, tested)
    if n > MOST_POINTS:
        raise ValueError(f"at most {MOST_POINTS} pairs: take longer epochs")
    slopes, _, _ = _pairwise_slopes(reference, tested)
    count, offset = len(slopes), int((slopes < -1).sum())
    if not count:
        return Line(math.nan, math.nan, (math.nan, math.nan), (math.nan, math.nan))
    slope = float(slopes[_middle(count, offset)].mean())
    reach = 1.959963984540054 * math.sqrt(n * (n - 1) * (2 * n + 5) / 18)
    lower = round((count - reach) / 2)
    upper = count - lower + 1
    low, high = (float(slopes[min(max(rank + offset - 1, 0), count - 1)]) for rank in (lower, upper))

    def intercept_at(at: float) -> float:
        return float(np.median(tested - at * reference)) if math.isfinite(at) else math.nan

    return Line(slope, intercept_at(slope), (low, high), (intercept_at(high), intercept_at(low)))


def passing_bablok_over_sessions(
    reference: FloatArray, tested: FloatArray, sessions: NDArray[np.integer]
) -> Line:
    """Passing and Bablok's regression whose intervals take sessions, not pairs, as the sample.

    Parameters
    ----------
    reference, tested : array, shape (n,)
        As in ``passing_bablok``.
    sessions : array of int, shape (n,)
        Session of each pair.

    Returns
    -------
    Line
        Intervals by the delete-one-session jackknife with Student's t on sessions - 1 degrees of freedom;
        NaN with fewer than three sessions, or where one session's leaving makes the slope undefined.

    Raises
    ------
    ValueError
        As ``passing_bablok``.

    References
    ----------
    Passing H, Bablok W (1983). J Clin Chem Clin Biochem 21:709-720.
    Shao J, Wu CFJ (1989). A general theory for jackknife variance estimation. Ann Stat 17:1176-1197 (that
    leaving out many at a time, as a session does, also serves medians).
    """
    line = passing_bablok(reference, tested)
    labels, session = np.unique(sessions, return_inverse=True)
    nothing = (math.nan, math.nan)
    if len(labels) < FEWEST_SESSIONS or not math.isfinite(line.slope):
        return Line(line.slope, line.intercept, nothing, nothing)
    slopes, first, second = _pairwise_slopes(reference, tested)
    below = int((slopes < -1).sum())
    one, other = session[first], session[second]
    place = np.arange(len(slopes))
    places = np.concatenate([place, place[one != other]])
    owner = np.concatenate([one, other[one != other]])
    order = np.lexsort((places, owner))
    edges = np.searchsorted(owner[order], np.arange(len(labels) + 1))
    left_out = np.full((2, len(labels)), np.nan)
    for label in range(len(labels)):
        removed = places[order[edges[label] : edges[label + 1]]]
        count = len(slopes) - len(removed)
        if not count:
            continue
        ranks = _middle(count, below - int((removed < below).sum()))
        # Rank r of what stays lies as many places on as removed slopes have at most r that stay before them.
        at = ranks + np.searchsorted(removed - np.arange(len(removed)), ranks, side="right")
        slope = slopes[at].mean()
        stays = session != label
        left_out[:, label] = slope, np.median(tested[stays] - slope * reference[stays])
    return Line(
        line.slope,
        line.intercept,
        _jackknife_interval(line.slope, left_out[0]),
        _jackknife_interval(line.intercept, left_out[1]),
    )


def _pairwise_slopes(
    reference: FloatArray, tested: FloatArray
) -> tuple[FloatArray, NDArray[np.integer], NDArray[np.integer]]:
    """Slopes between any two points in rising order, and the two points of each; -1 and 0/0 left out."""
    first, second = np.triu_indices(len(reference), 1)
    run, rise = reference[second] - reference[first], tested[second] - tested[first]
    upright = run == 0
    slopes = np.where(upright, np.copysign(np.inf, rise), rise / np.where(upright, 1.0, run))
    kept = np.flatnonzero(((run != 0) | (rise != 0)) & (slopes != -1))
    kept = kept[np.argsort(slopes[kept])]
    return slopes[kept], first[kept], second[kept]


def _middle(count: int, offset: int) -> NDArray[np.integer]:
    """Places of the two slopes (or twice the one) whose mean is the median shifted by ``offset``."""
    middle = (count - 1) / 2 + offset
    return np.array([min(math.floor(middle), count - 1), min(math.ceil(middle), count - 1)])


def _jackknife_interval(value: float, left_out: FloatArray) -> tuple[float, float]:
    """95% interval by the values that leaving out each session gives; NaN if one is not finite."""
    k = len(left_out)
    if not np.isfinite(left_out).all():
        return math.nan, math.nan
    error = math.sqrt((k - 1) / k * float(((left_out - left_out.mean()) ** 2).sum()))
    reach = float(special.stdtrit(k - 1, 0.975)) * error
    return value - reach, value + reach


def repeated_measures_correlation(
    first: FloatArray, second: FloatArray, groups: np.ndarray
) -> RepeatedMeasuresCorrelation:
    """Correlation of two measures within groups: whether they rise and fall together inside a session.

    Parameters
    ----------
    first, second : array, shape (n,)
        Measures, without gaps.
    groups : array, shape (n,)
        Label of the session (or person) of each.

    Returns
    -------
    RepeatedMeasuresCorrelation
        From the analysis of covariance with one slope and an intercept a group; degrees of freedom
        n - groups - 1; the interval is ``atanh(r) +/- 1.96 / sqrt(df - 1)``; the slope is second on first.

    Raises
    ------
    ValueError
        If the lengths differ or no degree of freedom is left.

    References
    ----------
    Bland JM, Altman DG (1995). Calculating correlation coefficients with repeated observations: part 1,
    correlation within subjects. BMJ 310:446.
    """
    labels, index, sizes = np.unique(groups, return_inverse=True, return_counts=True)
    if not len(first) == len(second) == len(index):
        raise ValueError("both measures and the groups must be as many")
    freedom = len(first) - len(labels) - 1
    if freedom < 1:
        raise ValueError("too few measures for as many groups")
    x, y = (values - (np.bincount(index, values) / sizes)[index] for values in (first, second))
    xx, yy, xy = float(x @ x), float(y @ y), float(x @ y)
    if min(xx, yy) <= 1e-12:
        return RepeatedMeasuresCorrelation(math.nan, freedom, math.nan, (math.nan, math.nan), math.nan)
    r = min(max(xy / math.sqrt(xx * yy), -1.0), 1.0)
    if abs(r) == 1:
        return RepeatedMeasuresCorrelation(r, freedom, 0.0, (r, r), xy / xx)
    p = float(2 * special.stdtr(freedom, -abs(r) * math.sqrt(freedom / (1 - r**2))))
    if freedom < 2:
        return RepeatedMeasuresCorrelation(r, freedom, p, (-1.0, 1.0), xy / xx)
    reach = 1.959963984540054 / math.sqrt(freedom - 1)
    interval = math.tanh(math.atanh(r) - reach), math.tanh(math.atanh(r) + reach)
    return RepeatedMeasuresCorrelation(r, freedom, p, interval, xy / xx)


def _pairs(reference: FloatArray, tested: FloatArray) -> int:
    if len(reference) != len(tested) or len(reference) < 3:
        raise ValueError("a regression needs three pairs")
    return len(reference)
