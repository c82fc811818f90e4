"""Agreement over several sessions of one sensor on one activity: sessions, not seconds, are the sample."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass

import numpy as np
from scipy import special

from accuracy.core.agreement.differences import correlation_band, paired_epochs, plain
from accuracy.core.agreement.equivalence import EQUIVALENCE_MARGIN, Equivalence, equivalence_test
from accuracy.core.agreement.regression import (
    FEWEST_SESSIONS,
    MOST_POINTS,
    Line,
    passing_bablok_over_sessions,
)
from accuracy.core.agreement.regression_limits import RegressionLimits
from accuracy.core.agreement.session_sums import pooled_figures, session_sums
from trainlog.trace import FloatArray

REGRESSION_SECONDS = 60
"""Least seconds of the epochs of Passing and Bablok's regression (ours)."""

SHARES = ("share_within_5_bpm", "share_within_10_percent", "share_within_either")
CORRELATIONS = (
    "pearson_r",
    "concordance",
    "repeated_measures_r",
    *(f"icc_{form}" for form in ("1_1", "2_1", "3_1", "1_k", "2_k", "3_k")),
)
UNITS: Mapping[str, str] = {
    "sessions": "count",
    "epochs": "count",
    "epoch_seconds": "s",
    "bias": "bpm",
    "sd": "bpm",
    "between_sd": "bpm",
    "within_sd": "bpm",
    "lower_limit": "bpm",
    "upper_limit": "bpm",
    "mean_absolute_error": "bpm",
    "root_mean_squared_error": "bpm",
    "mean_absolute_percentage_error": "%",
    **dict.fromkeys(SHARES, "share, 0 to 1"),
    **dict.fromkeys(CORRELATIONS, "no unit"),
    "reference_mean": "bpm",
    "reference_sd": "bpm",
    "tested_mean": "bpm",
    "tested_sd": "bpm",
    "availability": "share, 0 to 1",
    "least_products_slope": "bpm per bpm",
    "deming_slope": "bpm per bpm",
    "regression_slope": "bpm per bpm",
    "equivalence": "margin and interval in bpm",
    "regression_limits": "intercepts in bpm, slopes in bpm per bpm",
    "passing_bablok": "intercept in bpm, slope in bpm per bpm",
}
"""Unit of every figure of ``PooledAgreement.as_dict()``; an interval has its figure's."""


@dataclass(frozen=True)
class Figure:
    """A pooled figure with its 95% interval over sessions; the interval is NaN with too few of them."""

    value: float
    low: float = math.nan
    high: float = math.nan


@dataclass(frozen=True, eq=False)
class PooledAgreement:
    """Agreement over sessions.

    Attributes
    ----------
    sessions, epochs, epoch_seconds : int
        How many sessions and epochs, and how long an epoch is.
    availability : float
        Share (0 to 1) of all epochs of the sessions, as long as they were given, that both sensors have.
    figures : mapping of str to Figure
        ``bias``, ``sd``, ``between_sd``, ``within_sd``, ``lower_limit``, ``upper_limit`` (repeated measures,
        true value varies), errors, shares, correlations, ``icc_2_1`` and its kin, ``repeated_measures_r``
        (within sessions), mean and SD of each sensor, ``deming_slope``, ``least_products_slope`` (geometric
        mean regression), ``regression_slope`` (of the difference on the mean).
    regression_limits : RegressionLimits
        Over all epochs; the interval of its slope is the sessions' (as ``figures["regression_slope"]``).
    passing_bablok : Line
        On at most ``MOST_POINTS`` epochs of at least a minute, spread evenly over the rates; its
        intervals leave out one session at a time.
    equivalence : Equivalence or None
        Of the sessions' mean differences; None with one session.
    session_biases : array, shape (sessions,)
        Mean difference of each session in the order given, bpm.
    """

    sessions: int
    epochs: int
    epoch_seconds: int
    availability: float
    figures: Mapping[str, Figure]
    regression_limits: RegressionLimits
    passing_bablok: Line
    equivalence: Equivalence | None
    session_biases: FloatArray

    @property
    def correlation_band(self) -> str:
        """Trade practice's words for the correlation, for orientation."""
        return correlation_band(self.figures["pearson_r"].value)

    def as_dict(self) -> dict:
        """Figures with their intervals by name, ready for JSON; units are in ``UNITS``."""
        return plain(
            {
                "sessions": self.sessions,
                "epochs": self.epochs,
                "epoch_seconds": self.epoch_seconds,
                "availability": self.availability,
                **{name: asdict(figure) for name, figure in self.figures.items()},
                "regression_limits": self.regression_limits.as_dict(),
                "passing_bablok": self.passing_bablok.as_dict(),
                "equivalence": self.equivalence.as_dict() if self.equivalence else None,
            }
        )

    def rows(self) -> list[dict[str, str | float | None]]:
        """One row a figure for a CSV file: figure, unit, value, low, high."""
        return [
            {"figure": name, "unit": UNITS[name], **plain(asdict(figure))}
            for name, figure in self.figures.items()
        ]


def pool(
    pairs: Sequence[tuple[FloatArray, FloatArray]],
    *,
    epoch_seconds: int = 1,
    margin: float = EQUIVALENCE_MARGIN,
) -> PooledAgreement:
    """Pool the sessions of a sensor on an activity.

    Parameters
    ----------
    pairs : sequence of (reference, tested)
        Heart rate in bpm at 1 Hz, one pair a session; seconds missing in either are left out. Sessions with
        fewer than two common epochs are left out whole.
    epoch_seconds : int
        Length of the epochs whose means are compared.
    margin : float
        bpm of mean difference that would not matter, for the equivalence test.

    Returns
    -------
    PooledAgreement
        Intervals by the delete-one-session jackknife with Student's t on sessions - 1 degrees of freedom;
        correlations by way of their inverse hyperbolic tangent, shares kept between 0 and 1. They need no
        random numbers, and the order of sessions does not matter. Work grows with the seconds of data.

    Raises
    ------
    ValueError
        If no session has two common epochs, or a reference is not positive.

    References
    ----------
    Bland JM, Altman DG (2007). J Biopharm Stat 17:571-582 (limits).
    Miller RG (1974). The jackknife: a review. Biometrika 61:1-15.
    """
    known = [pair for pair in (_epochs(*pair, epoch_seconds) for pair in pairs) if len(pair[0]) > 1]
    if not known:
        raise ValueError("agreement needs a session with two common epochs")
    if min(float(x.min()) for x, _ in known) <= 0:
        raise ValueError("a reference heart rate must be positive")
    sums = np.array([session_sums(*pair) for pair in known])
    figures = _with_intervals(sums)
    biases = sums[:, 1] / sums[:, 0]
    return PooledAgreement(
        sessions=len(known),
        epochs=int(sums[:, 0].sum()),
        epoch_seconds=epoch_seconds,
        availability=float(sums[:, 0].sum()) / sum(-(-len(x) // epoch_seconds) for x, _ in pairs),
        figures=figures,
        regression_limits=_regression_limits(known, sums, figures["regression_slope"]),
        passing_bablok=_passing_bablok(pairs, max(epoch_seconds, REGRESSION_SECONDS)),
        equivalence=equivalence_test(biases, margin=margin) if len(biases) > 1 else None,
        session_biases=biases,
    )


def _epochs(reference: FloatArray, tested: FloatArray, seconds: int) -> tuple[FloatArray, FloatArray]:
    x, y = paired_epochs(reference, tested, seconds)
    both = np.isfinite(x) & np.isfinite(y)
    return x[both], y[both]


def _with_intervals(sums: FloatArray) -> dict[str, Figure]:
    """Every figure of all sessions, with its jackknife interval."""
    k = len(sums)
    whole = {name: float(value[0]) for name, value in pooled_figures(sums, np.ones((1, k))).items()}
    if k == 1:
        whole |= {"between_sd": math.nan, **_limits_of_one(sums[0])}
    if k < FEWEST_SESSIONS:
        return {name: Figure(value) for name, value in whole.items()}
    left_out = pooled_figures(sums, np.ones((k, k)) - np.eye(k))
    t = float(special.stdtrit(k - 1, 0.975))
    return {name: _jackknifed(name, value, left_out[name], t) for name, value in whole.items()}


def _limits_of_one(row: FloatArray) -> dict[str, float]:
    """Plain limits where there is one session, and nothing between sessions can be told."""
    n, middle = row[0], row[1] / row[0]
    spread = math.sqrt(max((row[2] - n * middle**2) / (n - 1), 0.0))
    return {
        "sd": spread,
        "within_sd": spread,
        "lower_limit": middle - 1.96 * spread,
        "upper_limit": middle + 1.96 * spread,
    }


def _jackknifed(name: str, value: float, left_out: FloatArray, t: float) -> Figure:
    if math.isnan(value) or np.isnan(left_out).any():
        return Figure(value)
    if name in CORRELATIONS:
        if max(abs(value), float(np.abs(left_out).max())) >= 1 - 1e-12:
            return Figure(value)
        reach = t * _standard_error(np.arctanh(left_out))
        return Figure(value, math.tanh(math.atanh(value) - reach), math.tanh(math.atanh(value) + reach))
    reach = t * _standard_error(left_out)
    low, high = value - reach, value + reach
    if name in SHARES:
        return Figure(value, max(low, 0.0), min(high, 1.0))
    return Figure(value, max(low, 0.0) if name.endswith(("sd", "_error")) else low, high)


def _standard_error(left_out: FloatArray) -> float:
    k = len(left_out)
    return math.sqrt((k - 1) / k * float(((left_out - left_out.mean()) ** 2).sum()))


def _regression_limits(
    known: Sequence[tuple[FloatArray, FloatArray]], sums: FloatArray, slope: Figure
) -> RegressionLimits:
    """Bland and Altman's section 3.2 over all epochs, session by session."""
    n = float(sums[:, 0].sum())
    mean_of_means = sum(float((x + y).sum()) for x, y in known) / (2 * n)
    intercept = float(sums[:, 1].sum()) / n - slope.value * mean_of_means
    lowest, highest, size, product, power = math.inf, -math.inf, 0.0, 0.0, 0.0
    for x, y in known:
        mean = (x + y) / 2
        residual = np.abs(y - x - intercept - slope.value * mean)
        lowest, highest = min(lowest, float(mean.min())), max(highest, float(mean.max()))
        size += float(residual.sum())
        product += float(residual @ (mean - mean_of_means))
        power += float(((mean - mean_of_means) ** 2).sum())
    spread_slope = product / power if power > 1e-9 else math.nan
    return RegressionLimits(
        intercept,
        slope.value,
        (slope.low, slope.high),
        size / n - spread_slope * mean_of_means,
        spread_slope,
        lowest,
        highest,
    )


def _passing_bablok(pairs: Sequence[tuple[FloatArray, FloatArray]], seconds: int) -> Line:
    """Regression on evenly spread long epochs; the same whatever the order of sessions."""
    long = [_epochs(*pair, seconds) for pair in pairs]
    x, y = (np.concatenate([pair[side] for pair in long]) for side in (0, 1))
    session = np.repeat(np.arange(len(long)), [len(pair[0]) for pair in long])
    # The last resort tells sessions apart by what they hold, since their order must not matter.
    total = np.repeat(
        [float(pair[0].sum() + pair[1].sum()) for pair in long], [len(pair[0]) for pair in long]
    )
    order = np.lexsort((total, y, x))
    places = np.linspace(0, max(len(x) - 1, 0), min(len(x), MOST_POINTS)).astype(int)
    chosen = order[places]
    if len(chosen) < 3 or min(np.ptp(x[chosen]), np.ptp(y[chosen])) < 1e-6:
        nothing = (math.nan, math.nan)
        return Line(math.nan, math.nan, nothing, nothing)
    return passing_bablok_over_sessions(x[chosen], y[chosen], session[chosen])
