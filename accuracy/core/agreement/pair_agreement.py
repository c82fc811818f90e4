"""Agreement of a tested with a reference heart-rate trace over their common seconds: one pair.

A difference is always tested minus reference, in bpm: positive where the tested sensor reads high. Several
sessions together are ``pooled.pool``; what a pair's report holds besides is in ``pair_report``.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace

import numpy as np

from accuracy.core.agreement.concordance import (
    absolute_agreement_interval,
    concordance,
    concordance_with_intervals,
    intraclass_correlations,
)
from accuracy.core.agreement.differences import (
    bias,
    common,
    correlation_band,
    effective_size,
    epochs,
    mean_absolute_error,
    mean_absolute_percentage_error,
    paired_epochs,
    pearson_r,
    plain,
    root_mean_squared_error,
    sd,
    share_within_bpm,
    share_within_either,
    share_within_percent,
)
from accuracy.core.agreement.equivalence import EQUIVALENCE_MARGIN, equivalence_test
from accuracy.core.agreement.limits import (
    LimitsOfAgreement,
    RepeatedMeasuresLimits,
    limits_of_agreement,
    repeated_measures_limits,
)
from accuracy.core.agreement.peaks import missed_peaks, session_peak_difference
from accuracy.core.agreement.regression import MOST_POINTS, deming, passing_bablok
from accuracy.core.agreement.regression_limits import regression_limits, slope_interval_in_time
from accuracy.core.agreement.timing import lock_on_time
from trainlog.trace import FloatArray

__all__ = [
    "UNITS",
    "Agreement",
    "LimitsOfAgreement",
    "RepeatedMeasuresLimits",
    "agree",
    "bias",
    "common",
    "concordance",
    "correlation_band",
    "epochs",
    "limits_of_agreement",
    "lock_on_time",
    "mean_absolute_error",
    "mean_absolute_percentage_error",
    "pearson_r",
    "repeated_measures_limits",
    "root_mean_squared_error",
    "sd",
    "share_within_bpm",
    "share_within_either",
    "share_within_percent",
]

PROPORTIONAL_SECONDS = 30
"""Least seconds of the epochs on which proportional bias is judged (ours): seconds repeat each other."""


@dataclass(frozen=True)
class Agreement:
    """Agreement figures of one pair, of its epochs unless said otherwise.

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
        Share of common epochs, 0 to 1; *either* is the wider of the two tolerances at each.
    lock_on_seconds : float or None
        Time until the tested sensor locked on, by second; None if it never did.
    epoch_seconds, epochs : int
        Length of an epoch, and how many both traces have.
    independent_epochs : float
        Effective number of epochs (``differences.effective_size``), on which all intervals rest that
        end in ``_low`` and ``_high`` (95%), but for the regressions'.
    bias_low ... upper_limit_high : float
        Intervals of bias and limits, bpm.
    concordance_low ... concordance_asymptotic_high : float
        By Lin's z-transform, and asymptotic.
    icc_1_1 ... icc_3_k : float
        Shrout and Fleiss' six forms; ``icc_2_1_low`` to ``icc_2_1_high`` is McGraw and Wong's interval of
        ICC(A,1), on as many epochs as are independent in their differences and in their means.
    regression_intercept, regression_slope, regression_spread_intercept, regression_spread_slope : float
        Bland and Altman's regression-based limits, see ``regression_limits.RegressionLimits``; the interval
        of the slope, ``regression_slope_low`` to ``regression_slope_high``, allows for epochs that repeat
        each other.
    proportional_seconds : int
        Epochs of the two regressions that follow: at least ``PROPORTIONAL_SECONDS``.
    deming_slope ... passing_bablok_intercept : float
        Proportional bias; intervals take those epochs as independent. Intercepts in bpm.
    equivalence_margin, equivalence_p, equivalence_low, equivalence_high : float
        Two one-sided tests of the bias; the interval is the 90% one, bpm.
    session_peak_difference : float
        Highest five-second means, tested less reference, bpm.
    peaks, peaks_missed : int
        See ``peaks.missed_peaks``.
    share_peaks_missed, mean_peak_shortfall : float
        Share 0 to 1, and bpm.
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
    epoch_seconds: int
    epochs: int
    independent_epochs: float
    bias_low: float
    bias_high: float
    lower_limit_low: float
    lower_limit_high: float
    upper_limit_low: float
    upper_limit_high: float
    concordance_low: float
    concordance_high: float
    concordance_asymptotic_low: float
    concordance_asymptotic_high: float
    icc_1_1: float
    icc_2_1: float
    icc_2_1_low: float
    icc_2_1_high: float
    icc_3_1: float
    icc_1_k: float
    icc_2_k: float
    icc_3_k: float
    equivalence_margin: float
    equivalence_p: float
    equivalence_low: float
    equivalence_high: float
    session_peak_difference: float
    peaks: int
    peaks_missed: int
    share_peaks_missed: float
    mean_peak_shortfall: float
    proportional_seconds: int
    regression_intercept: float = math.nan
    regression_slope: float = math.nan
    regression_slope_low: float = math.nan
    regression_slope_high: float = math.nan
    regression_spread_intercept: float = math.nan
    regression_spread_slope: float = math.nan
    deming_slope: float = math.nan
    deming_slope_low: float = math.nan
    deming_slope_high: float = math.nan
    deming_intercept: float = math.nan
    passing_bablok_slope: float = math.nan
    passing_bablok_slope_low: float = math.nan
    passing_bablok_slope_high: float = math.nan
    passing_bablok_intercept: float = math.nan

    @property
    def correlation_band(self) -> str:
        """Trade practice's words for the correlation, for orientation."""
        return correlation_band(self.pearson_r)

    def as_dict(self) -> dict[str, float | int | None]:
        """Figures by name, None where undefined, ready for JSON; units are in ``UNITS``."""
        return plain(asdict(self))


def _unit(name: str) -> str:
    for unit, words in (
        ("s", ("seconds",)),
        ("%", ("percentage",)),
        ("share, 0 to 1", ("share_",)),
        ("count", ("epochs", "peaks")),
        ("bpm per bpm", ("slope",)),
        ("no unit", ("pearson_r", "concordance", "icc_", "_p")),
    ):
        if any(name.endswith(word) if word == "_p" else word in name for word in words):
            return unit
    return "bpm"


UNITS: Mapping[str, str] = {name: _unit(name) for name in Agreement.__dataclass_fields__}
"""Unit of every figure of ``Agreement.as_dict()``."""


def agree(
    reference: FloatArray,
    tested: FloatArray,
    *,
    epoch_seconds: int = 1,
    margin: float = EQUIVALENCE_MARGIN,
) -> Agreement:
    """All agreement figures of a pair.

    Parameters
    ----------
    reference, tested : array, shape (seconds,)
        Heart rate in bpm at 1 Hz; seconds missing in either are left out.
    epoch_seconds : int
        Length of the epochs whose means are compared; 1 compares every second.
    margin : float
        bpm of mean difference that would not matter, for the equivalence test.

    Returns
    -------
    Agreement
        See its attributes.

    Raises
    ------
    ValueError
        If the traces differ in length, share fewer than two epochs, or the reference is not positive.
    """
    x, y = common(*paired_epochs(reference, tested, epoch_seconds))
    differences = y - x
    size = effective_size(differences)
    limits = limits_of_agreement(differences, size=size)
    lin = concordance_with_intervals(x, y, size=size)
    targets = min(size, effective_size((x + y) / 2))
    icc_low, icc_high = absolute_agreement_interval(np.column_stack([x, y]), size=targets)
    equivalence = equivalence_test(differences, margin=margin, size=size)
    shared = _common_seconds(reference, tested)
    peaks = missed_peaks(*shared)
    figures = Agreement(
        common_seconds=int((np.isfinite(reference) & np.isfinite(tested)).sum()),
        bias=limits.bias,
        sd=limits.sd,
        lower_limit=limits.lower,
        upper_limit=limits.upper,
        mean_absolute_error=mean_absolute_error(differences),
        root_mean_squared_error=root_mean_squared_error(differences),
        mean_absolute_percentage_error=mean_absolute_percentage_error(x, y),
        pearson_r=pearson_r(x, y),
        concordance=lin.coefficient,
        share_within_5_bpm=share_within_bpm(differences),
        share_within_10_percent=share_within_percent(x, y),
        share_within_either=share_within_either(x, y),
        lock_on_seconds=lock_on_time(reference, tested),
        epoch_seconds=epoch_seconds,
        epochs=len(x),
        independent_epochs=size,
        bias_low=limits.bias_interval[0],
        bias_high=limits.bias_interval[1],
        lower_limit_low=limits.lower_interval[0],
        lower_limit_high=limits.lower_interval[1],
        upper_limit_low=limits.upper_interval[0],
        upper_limit_high=limits.upper_interval[1],
        concordance_low=lin.z_interval[0],
        concordance_high=lin.z_interval[1],
        concordance_asymptotic_low=lin.asymptotic_interval[0],
        concordance_asymptotic_high=lin.asymptotic_interval[1],
        **asdict(intraclass_correlations(np.column_stack([x, y]))),
        icc_2_1_low=icc_low,
        icc_2_1_high=icc_high,
        equivalence_margin=margin,
        equivalence_p=equivalence.p,
        equivalence_low=equivalence.interval[0],
        equivalence_high=equivalence.interval[1],
        session_peak_difference=session_peak_difference(*shared),
        peaks=peaks.peaks,
        peaks_missed=peaks.missed,
        share_peaks_missed=peaks.share,
        mean_peak_shortfall=peaks.mean_shortfall,
        proportional_seconds=max(epoch_seconds, PROPORTIONAL_SECONDS),
    )
    return _with_proportional(figures, reference, tested)


def _with_proportional(figures: Agreement, reference: FloatArray, tested: FloatArray) -> Agreement:
    """Add the regressions, where there are three long epochs that differ."""
    pair = paired_epochs(reference, tested, figures.proportional_seconds)
    known = np.isfinite(pair[0])
    x, y = pair[0][known], pair[1][known]
    if len(x) < 3 or min(np.ptp(x), np.ptp(y)) < 1e-6 or np.ptp(x + y) < 1e-6:
        return figures
    step = -(-len(x) // MOST_POINTS)
    low, high = slope_interval_in_time(x, y)
    limits, line, ranks = regression_limits(x, y), deming(x, y), passing_bablok(x[::step], y[::step])
    return replace(
        figures,
        regression_intercept=limits.intercept,
        regression_slope=limits.slope,
        regression_slope_low=low,
        regression_slope_high=high,
        regression_spread_intercept=limits.spread_intercept,
        regression_spread_slope=limits.spread_slope,
        deming_slope=line.slope,
        deming_slope_low=line.slope_interval[0],
        deming_slope_high=line.slope_interval[1],
        deming_intercept=line.intercept,
        passing_bablok_slope=ranks.slope,
        passing_bablok_slope_low=ranks.slope_interval[0],
        passing_bablok_slope_high=ranks.slope_interval[1],
        passing_bablok_intercept=ranks.intercept,
    )


def _common_seconds(reference: FloatArray, tested: FloatArray) -> tuple[FloatArray, FloatArray]:
    both = np.isfinite(reference) & np.isfinite(tested)
    return np.where(both, reference, np.nan), np.where(both, tested, np.nan)
