"""Agreement of a tested with a reference heart-rate trace over their common seconds.

A difference is always tested minus reference, in bpm: positive where the tested sensor reads high.
"""

from __future__ import annotations

import math
from dataclasses import asdict, dataclass

import numpy as np
from scipy import stats

from trainlog.trace import FloatArray

LIMITS_MULTIPLE = 1.96
"""Standard deviations between bias and limit (Bland & Altman 1999)."""

CLOSE_BPM = 5.0
"""bpm within which a reading is close."""

CLOSE_PERCENT = 10.0
"""Percent of the reference within which a reading is close."""

LOCKED_SECONDS = 30
"""Seconds a sensor must stay close to count as locked on (common practice, no source)."""


@dataclass(frozen=True)
class LimitsOfAgreement:
    """Bias and 95% limits of agreement in bpm, each with an approximate 95% confidence interval."""

    bias: float
    sd: float
    lower: float
    upper: float
    bias_interval: tuple[float, float]
    lower_interval: tuple[float, float]
    upper_interval: tuple[float, float]


@dataclass(frozen=True)
class RepeatedMeasuresLimits:
    """Bias, standard deviations between groups, within, and of one new difference, and 95% limits, in bpm."""

    bias: float
    between_sd: float
    within_sd: float
    sd: float
    lower: float
    upper: float


@dataclass(frozen=True)
class Agreement:
    """Agreement figures of one pair.

    Attributes
    ----------
    common_seconds : int
        Seconds valid in both traces.
    bias, sd, lower_limit, upper_limit : float
        Mean difference, its standard deviation (n - 1) and the 95% limits of agreement, bpm.
    mean_absolute_error, root_mean_squared_error : float
        In bpm.
    mean_absolute_percentage_error : float
        Percent of the reference.
    pearson_r, concordance : float
        NaN where a trace never changes.
    share_within_5_bpm, share_within_10_percent, share_within_either : float
        Share of common seconds, 0 to 1; *either* is the wider of the two tolerances at each second.
    lock_on_seconds : float or None
        Time until the tested sensor locked on; None if it never did.
    """

    common_seconds: int
    bias: float
    sd: float
    lower_limit: float
    upper_limit: float
    mean_absolute_error: float
    root_mean_squared_error: float
    mean_absolute_percentage_error: float
    pearson_r: float
    concordance: float
    share_within_5_bpm: float
    share_within_10_percent: float
    share_within_either: float
    lock_on_seconds: float | None

    def as_dict(self) -> dict[str, float | int | None]:
        """Figures by name, None where undefined, ready for JSON."""
        figures = asdict(self)
        return {name: None if _is_nan(value) else value for name, value in figures.items()}


def agree(reference: FloatArray, tested: FloatArray) -> Agreement:
    """All agreement figures of a pair.

    Parameters
    ----------
    reference, tested : array, shape (seconds,)
        Heart rate in bpm at 1 Hz; seconds missing in either are left out.

    Returns
    -------
    Agreement
        See its attributes.

    Raises
    ------
    ValueError
        If the traces differ in length, share fewer than two seconds, or the reference is not positive.
    """
    x, y = common(reference, tested)
    differences = y - x
    limits = limits_of_agreement(differences)
    return Agreement(
        common_seconds=len(x),
        bias=limits.bias,
        sd=limits.sd,
        lower_limit=limits.lower,
        upper_limit=limits.upper,
        mean_absolute_error=mean_absolute_error(differences),
        root_mean_squared_error=root_mean_squared_error(differences),
        mean_absolute_percentage_error=mean_absolute_percentage_error(x, y),
        pearson_r=pearson_r(x, y),
        concordance=concordance(x, y),
        share_within_5_bpm=share_within_bpm(differences),
        share_within_10_percent=share_within_percent(x, y),
        share_within_either=share_within_either(x, y),
        lock_on_seconds=lock_on_time(reference, tested),
    )


def common(reference: FloatArray, tested: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Keep the seconds valid in both traces: reference, tested.

    Raises ValueError if the traces differ in length or share fewer than two seconds.
    """
    if len(reference) != len(tested):
        raise ValueError("the two traces must have as many seconds each")
    both = np.isfinite(reference) & np.isfinite(tested)
    if both.sum() < 2:
        raise ValueError("agreement needs at least two common seconds")
    return reference[both], tested[both]


def bias(differences: FloatArray) -> float:
    """Mean difference in bpm; raises ValueError without two differences."""
    return float(_at_least_two(differences).mean())


def sd(differences: FloatArray) -> float:
    """Spread of the differences in bpm: standard deviation, divisor n - 1. Raises ValueError without two."""
    return float(_at_least_two(differences).std(ddof=1))


def limits_of_agreement(differences: FloatArray, *, multiple: float = LIMITS_MULTIPLE) -> LimitsOfAgreement:
    """Bland and Altman's limits of agreement with their confidence intervals.

    Parameters
    ----------
    differences : array, shape (n,)
        Tested minus reference in bpm. The intervals take them as independent: right for one difference a
        session, far too narrow for the seconds of one session.
    multiple : float
        Standard deviations from bias to limit: 2 in the 1986 paper, 1.96 in the 1999 one.

    Returns
    -------
    LimitsOfAgreement
        The standard error is ``s / sqrt(n)`` for the bias and ``s sqrt((1 + multiple**2 / 2) / n)`` for a
        limit, which is ``sqrt(3 s**2 / n)`` at 2 and ``1.71 s / sqrt(n)`` at 1.96; intervals use Student's t
        with n - 1 degrees of freedom.

    Raises
    ------
    ValueError
        If there are fewer than two differences.

    References
    ----------
    Bland JM, Altman DG (1986). Lancet 327(8476):307-310.
    Bland JM, Altman DG (1999). Stat Methods Med Res 8:135-160.

    Examples
    --------
    >>> limits = limits_of_agreement(np.array([-1.0, 0.0, 1.0]))
    >>> limits.bias, limits.lower, limits.upper
    (0.0, -1.96, 1.96)
    """
    middle, spread, n = bias(differences), sd(differences), len(differences)
    t = float(stats.t.ppf(0.975, n - 1))
    bias_reach = t * spread / math.sqrt(n)
    limit_reach = t * spread * math.sqrt((1 + multiple**2 / 2) / n)
    lower, upper = middle - multiple * spread, middle + multiple * spread
    return LimitsOfAgreement(
        middle,
        spread,
        lower,
        upper,
        (middle - bias_reach, middle + bias_reach),
        (lower - limit_reach, lower + limit_reach),
        (upper - limit_reach, upper + limit_reach),
    )


def repeated_measures_limits(differences: FloatArray, groups: np.ndarray) -> RepeatedMeasuresLimits:
    """Limits of agreement with several differences a group, where the true value varies.

    One-way analysis of variance of the differences on the groups; a between-groups variance below zero
    counts as zero.

    Parameters
    ----------
    differences : array, shape (n,)
        Tested minus reference in bpm.
    groups : array, shape (n,)
        Label of the session (or person) that each difference belongs to.

    Returns
    -------
    RepeatedMeasuresLimits
        Centred on the mean of all differences.

    Raises
    ------
    ValueError
        If there are fewer than two groups or no group has two differences.

    References
    ----------
    Bland JM, Altman DG (2007). J Biopharm Stat 17:571-582.
    """
    labels, index, sizes = np.unique(groups, return_inverse=True, return_counts=True)
    n, k = len(differences), len(labels)
    if len(index) != n:
        raise ValueError("every difference belongs to one group")
    if k < 2 or n == k:
        raise ValueError("repeated measures need two groups, and two differences in at least one")
    middle = float(differences.mean())
    means = np.bincount(index, differences) / sizes
    mean_square_between = float(sizes @ (means - middle) ** 2) / (k - 1)
    within = float(((differences - means[index]) ** 2).sum()) / (n - k)
    per_group = (n**2 - float((sizes**2).sum())) / ((k - 1) * n)
    between = max(mean_square_between - within, 0.0) / per_group
    spread = math.sqrt(between + within)
    reach = LIMITS_MULTIPLE * spread
    return RepeatedMeasuresLimits(
        middle, math.sqrt(between), math.sqrt(within), spread, middle - reach, middle + reach
    )


def mean_absolute_error(differences: FloatArray) -> float:
    """Mean size of the differences in bpm; raises ValueError without two differences."""
    return float(np.abs(_at_least_two(differences)).mean())


def root_mean_squared_error(differences: FloatArray) -> float:
    """Root of the mean squared difference in bpm; raises ValueError without two differences."""
    return math.sqrt(float((_at_least_two(differences) ** 2).mean()))


def mean_absolute_percentage_error(reference: FloatArray, tested: FloatArray) -> float:
    """Mean size of the differences in percent of the reference, over common seconds.

    Raises ValueError if a common reference reading is not positive or fewer than two seconds are common.
    """
    x, y = common(reference, tested)
    if x.min() <= 0:
        raise ValueError("a reference heart rate must be positive")
    return float(100 * (np.abs(y - x) / x).mean())


def pearson_r(reference: FloatArray, tested: FloatArray) -> float:
    """Pearson correlation over common seconds; NaN if either trace never changes there."""
    x, y = (values - values.mean() for values in common(reference, tested))
    scale = math.sqrt(float(x @ x)) * math.sqrt(float(y @ y))
    return float(np.clip(x @ y / scale, -1.0, 1.0)) if scale > 0 else math.nan


def concordance(reference: FloatArray, tested: FloatArray) -> float:
    """Lin's concordance correlation coefficient over common seconds, moments on divisor n.

    -1 to 1; NaN if both traces are the same constant. Raises ValueError without two common seconds.

    References
    ----------
    Lin LI (1989). Biometrics 45:255-268; correction (2000) 56:324-325.

    Examples
    --------
    >>> concordance(np.arange(1.0, 6.0), np.arange(2.0, 7.0))
    0.8
    """
    x, y = common(reference, tested)
    apart = x.mean() - y.mean()
    total = float(x.var() + y.var() + apart**2)
    shared = float(((x - x.mean()) * (y - y.mean())).mean())
    return 2 * shared / total if total > 0 else math.nan


def share_within_bpm(differences: FloatArray, bpm: float = CLOSE_BPM) -> float:
    """Share (0 to 1) of the differences no larger than ``bpm``; raises ValueError without two of them."""
    return float((np.abs(_at_least_two(differences)) <= bpm).mean())


def share_within_percent(reference: FloatArray, tested: FloatArray, percent: float = CLOSE_PERCENT) -> float:
    """Share (0 to 1) of common seconds on which the tested reads within ``percent`` of the reference."""
    x, y = common(reference, tested)
    return float((np.abs(y - x) <= x * percent / 100).mean())


def share_within_either(reference: FloatArray, tested: FloatArray) -> float:
    """Share of common seconds within 10% of the reference or 5 bpm, whichever is greater.

    The criterion is attributed to ANSI/AAMI EC13:2002 (R2007), from memory; its text was not seen.
    """
    x, y = common(reference, tested)
    return float(_close(x, y).mean())


def lock_on_time(reference: FloatArray, tested: FloatArray) -> float | None:
    """Seconds until the tested sensor has found the heart rate.

    The first second from which the tested trace stays within 10% of the reference or 5 bpm, whichever is
    greater, for ``LOCKED_SECONDS`` seconds on end, all of them valid in both (common practice, no source).

    Returns
    -------
    float or None
        Seconds since the traces' first sample; None if it never happens.
    """
    with_gaps = np.isfinite(reference) & np.isfinite(tested)
    close = np.zeros(len(reference), dtype=int)
    close[with_gaps] = _close(reference[with_gaps], tested[with_gaps])
    run = np.concatenate([[0], np.cumsum(close)])
    if len(run) <= LOCKED_SECONDS:
        return None
    locked = np.flatnonzero(run[LOCKED_SECONDS:] - run[:-LOCKED_SECONDS] == LOCKED_SECONDS)
    return float(locked[0]) if len(locked) else None


def _close(reference: FloatArray, tested: FloatArray) -> np.ndarray:
    """Mark where the tested reads within 10% of the reference or 5 bpm, whichever is greater."""
    return np.abs(tested - reference) <= np.maximum(reference * CLOSE_PERCENT / 100, CLOSE_BPM)


def _at_least_two(differences: FloatArray) -> FloatArray:
    if len(differences) < 2:
        raise ValueError("agreement needs at least two differences")
    return differences


def _is_nan(value: object) -> bool:
    return isinstance(value, float) and math.isnan(value)
