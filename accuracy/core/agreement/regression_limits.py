"""Bland and Altman's limits of agreement where bias and spread change with the rate."""

from __future__ import annotations

import math
from dataclasses import asdict, dataclass

import numpy as np
from scipy import special

from accuracy.core.agreement.differences import effective_size, plain
from accuracy.core.agreement.limits import LIMITS_MULTIPLE, Interval
from trainlog.trace import FloatArray


@dataclass(frozen=True)
class RegressionLimits:
    """Bias and limits that change with the rate.

    Attributes
    ----------
    intercept, slope : float
        Difference expected at a mean of both: bpm, and bpm per bpm.
    slope_interval : tuple of float
        95% confidence interval of the slope, differences taken as independent.
    spread_intercept, spread_slope : float
        Absolute residual expected at a mean of both: bpm, and bpm per bpm.
    lowest, highest : float
        Range of means the regression was made on, bpm.
    """

    intercept: float
    slope: float
    slope_interval: Interval
    spread_intercept: float
    spread_slope: float
    lowest: float
    highest: float

    def at(self, mean: FloatArray | float) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Lower limit, bias and upper limit in bpm at means of both methods."""
        centre = self.intercept + self.slope * np.asarray(mean, dtype=float)
        spread = np.maximum(self.spread_intercept + self.spread_slope * np.asarray(mean, dtype=float), 0.0)
        reach = LIMITS_MULTIPLE * math.sqrt(math.pi / 2) * spread
        return centre - reach, centre, centre + reach

    def as_dict(self) -> dict:
        """Figures by name, ready for JSON."""
        return plain(asdict(self))


def regression_limits(reference: FloatArray, tested: FloatArray) -> RegressionLimits:
    """Limits of agreement where bias and spread change with the rate.

    The differences are regressed on the means of both methods, and the absolute residuals on the means too;
    the limits lie 1.96 sqrt(pi / 2) = 2.46 expected absolute residuals from the bias.

    Parameters
    ----------
    reference, tested : array, shape (n,)
        Heart rate in bpm, without gaps.

    Returns
    -------
    RegressionLimits
        ``at(mean)`` gives lower limit, bias and upper limit.

    Raises
    ------
    ValueError
        If there are fewer than three pairs, or all have the same mean.

    References
    ----------
    Bland JM, Altman DG (1999). Stat Methods Med Res 8:135-160, section 3.2.
    """
    if len(reference) != len(tested) or len(reference) < 3:
        raise ValueError("a regression needs three pairs")
    mean, difference = (reference + tested) / 2, tested - reference
    centred = mean - mean.mean()
    power = float(centred @ centred)
    if power <= 1e-9 * len(mean):
        raise ValueError("a regression needs means that differ")
    slope = float(centred @ difference) / power
    intercept = float(difference.mean() - slope * mean.mean())
    residual = difference - intercept - slope * mean
    size = np.abs(residual)
    spread_slope = float(centred @ size) / power
    n = len(mean)
    reach = float(special.stdtrit(n - 2, 0.975)) * math.sqrt(float(residual @ residual) / (n - 2) / power)
    return RegressionLimits(
        intercept,
        slope,
        (slope - reach, slope + reach),
        float(size.mean() - spread_slope * mean.mean()),
        spread_slope,
        float(mean.min()),
        float(mean.max()),
    )


def slope_interval_in_time(reference: FloatArray, tested: FloatArray) -> Interval:
    """95% confidence interval of the slope of the difference on the mean, of epochs in order of time.

    Neighbouring epochs repeat each other, so what each adds to the slope, its residual times its mean's
    distance from the middle, counts as many times as it, and the residual itself, is independent
    (``differences.effective_size``, the fewer of the two).

    Parameters
    ----------
    reference, tested : array, shape (n,)
        Heart rate in bpm, without gaps, in order of time.

    Returns
    -------
    tuple of float
        bpm per bpm; NaN where no more than two epochs are independent.

    Raises
    ------
    ValueError
        If there are fewer than three pairs, or all have the same mean.

    References
    ----------
    Newey WK, West KD (1987). Econometrica 55:703-708 (the variance of a slope from the sum of its parts'
    autocovariances); where those are cut off is Geyer's rule, see ``differences.effective_size``.
    """
    limits = regression_limits(reference, tested)
    mean, difference = (reference + tested) / 2, tested - reference
    centred = mean - mean.mean()
    residual = difference - limits.intercept - limits.slope * mean
    part = centred * residual
    # A slow error goes unseen in the parts of steady work; erring towards the wider interval is safer.
    n, size = len(mean), min(effective_size(part), effective_size(residual))
    if size <= 2:
        return math.nan, math.nan
    error = math.sqrt(float(part @ part) * n / (n - 2) * n / size) / float(centred @ centred)
    reach = float(special.stdtrit(size - 2, 0.975)) * error
    return limits.slope - reach, limits.slope + reach
