"""Whether two sensors' biases vary equally from session to session: variances of paired values."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy import special

from trainlog.trace import FloatArray

FEWEST_SESSIONS = 4
"""Sessions below which no ratio is given (ours): with three, its interval holds nearly everything."""


@dataclass(frozen=True)
class VarianceRatio:
    """Variance of a first over that of a second paired value.

    Attributes
    ----------
    sessions : int
    first_sd, second_sd : float
        Standard deviations, divisor n - 1, in the unit of what was given.
    ratio : float
        No unit.
    low, high : float
        95% interval.
    p : float
        Of equal variances, two-sided.
    joint_p : float
        Of equal means and equal variances at once.
    """

    sessions: int
    first_sd: float
    second_sd: float
    ratio: float
    low: float
    high: float
    p: float
    joint_p: float


def variance_ratio(first: FloatArray, second: FloatArray) -> VarianceRatio | None:
    """Compare the variances of two paired values, and their means and variances at once.

    Parameters
    ----------
    first, second : array, shape (sessions,)
        For example each sensor's bias in each session, in bpm; sessions with NaN in either are left out.

    Returns
    -------
    VarianceRatio or None
        None with fewer than ``FEWEST_SESSIONS``, or where one of both does not vary, or where they vary
        as one. Both tests take the pairs as normal.

    Raises
    ------
    ValueError
        If the two are not equally long.

    References
    ----------
    Pitman EJG (1939). A note on normal correlation. Biometrika 31:9-12 (test and interval).
    Morgan WA (1939). A test for the significance of the difference between the two variances in a sample
    from a normal bivariate population. Biometrika 31:13-19.
    Bradley EL, Blackwood LG (1989). Comparing paired data: a simultaneous test for means and variances.
    Am Stat 43:234-235 (``joint_p``).
    """
    if len(first) != len(second):
        raise ValueError("both sensors need a value for each session")
    both = np.isfinite(first) & np.isfinite(second)
    x, y = np.asarray(first, dtype=float)[both], np.asarray(second, dtype=float)[both]
    n = len(x)
    if n < FEWEST_SESSIONS:
        return None
    variances = float(x.var(ddof=1)), float(y.var(ddof=1))
    tiny = 1e-12 * max(*variances, 1e-300)
    if min(variances) <= tiny or float((x - y).var()) <= tiny or float((x + y).var()) <= tiny:
        return None
    freedom = n - 2
    ratio = variances[0] / variances[1]
    r = float(np.corrcoef(x, y)[0, 1])
    reach = float(special.stdtrit(freedom, 0.975))
    widening = 1 + 2 * (1 - r**2) * reach**2 / freedom
    apart = math.sqrt(widening**2 - 1)
    lean = float(np.clip(np.corrcoef(x - y, x + y)[0, 1], -1, 1))
    return VarianceRatio(
        sessions=n,
        first_sd=math.sqrt(variances[0]),
        second_sd=math.sqrt(variances[1]),
        ratio=ratio,
        low=ratio * (widening - apart),
        high=ratio * (widening + apart),
        p=_correlation_p(lean, freedom),
        joint_p=_bradley_blackwood(x, y),
    )


def _correlation_p(r: float, freedom: int) -> float:
    if abs(r) >= 1:
        return 0.0
    return float(2 * special.stdtr(freedom, -abs(r) * math.sqrt(freedom / (1 - r**2))))


def _bradley_blackwood(x: FloatArray, y: FloatArray) -> float:
    """P of the regression of differences on sums having neither intercept nor slope."""
    difference, total = x - y, x + y
    centred = total - total.mean()
    slope = float(centred @ difference) / float(centred @ centred)
    residual = difference - difference.mean() - slope * centred
    unexplained, freedom = float(residual @ residual), len(x) - 2
    explained = float(difference @ difference) - unexplained
    if unexplained <= 0:
        return 0.0
    return float(special.fdtrc(2, freedom, max(explained, 0.0) / 2 / (unexplained / freedom)))
