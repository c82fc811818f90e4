"""Bland and Altman's limits of agreement, plain and with repeated measures."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import asdict, dataclass

import numpy as np
from scipy import special

from accuracy.core.agreement.differences import bias, plain, sd
from trainlog.trace import FloatArray

LIMITS_MULTIPLE = 1.96
"""Standard deviations between bias and limit (Bland & Altman 1999)."""

Interval = tuple[float, float]
UNKNOWN: Interval = (math.nan, math.nan)


@dataclass(frozen=True)
class LimitsOfAgreement:
    """Bias and 95% limits of agreement in bpm, each with an approximate 95% confidence interval."""

    bias: float
    sd: float
    lower: float
    upper: float
    bias_interval: Interval
    lower_interval: Interval
    upper_interval: Interval

    def as_dict(self) -> dict:
        """Figures by name, all in bpm, ready for JSON."""
        return plain(asdict(self))


@dataclass(frozen=True)
class RepeatedMeasuresLimits:
    """Bias, standard deviations between groups, within, and of one new difference, and 95% limits, in bpm.

    The 95% intervals are the method of variance estimates recovery (MOVER), see ``repeated_measures_limits``.
    """

    bias: float
    between_sd: float
    within_sd: float
    sd: float
    lower: float
    upper: float
    bias_interval: Interval = UNKNOWN
    lower_interval: Interval = UNKNOWN
    upper_interval: Interval = UNKNOWN

    def as_dict(self) -> dict:
        """Figures by name, all in bpm, ready for JSON."""
        return plain(asdict(self))


def limits_of_agreement(
    differences: FloatArray, *, multiple: float = LIMITS_MULTIPLE, size: float | None = None
) -> LimitsOfAgreement:
    """Bland and Altman's limits of agreement with their confidence intervals.

    Parameters
    ----------
    differences : array, shape (n,)
        Tested minus reference in bpm. The intervals take them as independent: right for one difference a
        session, far too narrow for the seconds of one session.
    multiple : float
        Standard deviations from bias to limit: 2 in the 1986 paper, 1.96 in the 1999 one.
    size : float, optional
        Number of independent differences, for the intervals; by default all of them
        (``differences.effective_size`` estimates it for a session's seconds).

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
    middle, spread = bias(differences), sd(differences)
    n = len(differences) if size is None else size
    t = float(special.stdtrit(n - 1, 0.975))
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
        Centred on the mean of all differences. Intervals recover the variance of the two mean squares from
        their chi-squared intervals (MOVER; the differences within a group are taken as independent) and use
        Student's t with groups - 1 degrees of freedom for the bias.

    Raises
    ------
    ValueError
        If there are fewer than two groups or no group has two differences.

    References
    ----------
    Bland JM, Altman DG (2007). J Biopharm Stat 17:571-582.
    Zou GY (2013). Confidence interval estimation for the Bland-Altman limits of agreement with multiple
    observations per individual. Stat Methods Med Res 22:630-642 (intervals; from memory).
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
    parts = (
        [(mean_square_between / per_group, k - 1), ((1 - 1 / per_group) * within, n - k)]
        if between
        else [(within, n - 1)]
    )
    standard_error = math.sqrt(between * float((sizes**2).sum()) / n**2 + within / n)
    return _with_intervals(middle, between, within, parts, standard_error, k - 1)


def replicate_limits(
    reference: FloatArray, tested: FloatArray, reference_groups: np.ndarray, tested_groups: np.ndarray
) -> RepeatedMeasuresLimits:
    """Limits of agreement with replicates by each method, where a group's true value is constant.

    The variance of the groups' mean differences is corrected for the averaging: each method's variance
    within groups is added, times one less the mean of the reciprocal numbers of replicates.

    Parameters
    ----------
    reference, tested : array, shape (n,) and (m,)
        Measurements; a group need not have as many by either method.
    reference_groups, tested_groups : array, shape (n,) and (m,)
        Label of the group of each; both name the same groups.

    Returns
    -------
    RepeatedMeasuresLimits
        ``between_sd`` is that of the groups' mean differences, ``within_sd`` that of a difference of single
        measurements within a group. Where reference and tested were measured in pairs it is centred, as in
        the 2007 paper, on the mean of all differences; else on the mean of the groups' mean differences.
        Intervals as in ``repeated_measures_limits``.

    Raises
    ------
    ValueError
        If the methods name different groups, or there are fewer than two groups, or a method has no
        replicates at all.

    References
    ----------
    Bland JM, Altman DG (1999). Stat Methods Med Res 8:135-160, section 5.
    Bland JM, Altman DG (2007). J Biopharm Stat 17:571-582.
    Zou GY (2013). Stat Methods Med Res 22:630-642 (intervals; from memory).
    """
    labels, means, variances, corrections, freedoms = [], [], [], [], []
    for values, groups in ((reference, reference_groups), (tested, tested_groups)):
        names, index, sizes = np.unique(groups, return_inverse=True, return_counts=True)
        if len(index) != len(values) or len(names) < 2 or len(values) == len(names):
            raise ValueError("replicates need two groups, and two measurements in at least one")
        mean = np.bincount(index, values) / sizes
        labels.append(names)
        means.append(mean)
        freedoms.append(len(values) - len(names))
        variances.append(float(((values - mean[index]) ** 2).sum()) / freedoms[-1])
        corrections.append(1 - float((1 / sizes).mean()))
    if not np.array_equal(labels[0], labels[1]):
        raise ValueError("both methods must have measured the same groups")
    k = len(labels[0])
    mean_differences = means[1] - means[0]
    between = float(mean_differences.var(ddof=1))
    paired = len(reference) == len(tested) and np.array_equal(reference_groups, tested_groups)
    middle = float((tested - reference).mean()) if paired else float(mean_differences.mean())
    parts = [(between, k - 1)]
    parts += [(c * v, f) for c, v, f in zip(corrections, variances, freedoms, strict=True)]
    return _with_intervals(middle, between, sum(variances), parts, math.sqrt(between / k), k - 1)


def _with_intervals(
    middle: float,
    between: float,
    within: float,
    parts: Sequence[tuple[float, int]],
    standard_error: float,
    freedom: int,
) -> RepeatedMeasuresLimits:
    """Limits of a variance that is a sum of mean squares, with MOVER intervals."""
    total = sum(part for part, _ in parts)
    spread = math.sqrt(total)
    below = math.sqrt(sum((part * (1 - f / special.chdtri(f, 1 - 0.975))) ** 2 for part, f in parts))
    above = math.sqrt(sum((part * (f / special.chdtri(f, 1 - 0.025) - 1)) ** 2 for part, f in parts))
    inward = LIMITS_MULTIPLE * (spread - math.sqrt(max(total - below, 0.0)))
    outward = LIMITS_MULTIPLE * (math.sqrt(total + above) - spread)
    of_bias = float(special.stdtrit(freedom, 0.975)) * standard_error
    inward, outward = math.hypot(of_bias, inward), math.hypot(of_bias, outward)
    lower, upper = middle - LIMITS_MULTIPLE * spread, middle + LIMITS_MULTIPLE * spread
    return RepeatedMeasuresLimits(
        middle,
        math.sqrt(between),
        math.sqrt(within),
        spread,
        lower,
        upper,
        (middle - of_bias, middle + of_bias),
        (lower - outward, lower + inward),
        (upper - inward, upper + outward),
    )
