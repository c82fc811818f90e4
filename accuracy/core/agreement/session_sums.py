"""What a session adds to pooled figures: a row of sums, so that pooling is linear in the seconds of data."""

from __future__ import annotations

import math

import numpy as np

from accuracy.core.agreement.differences import CLOSE_BPM, CLOSE_PERCENT, close
from accuracy.core.agreement.limits import LIMITS_MULTIPLE
from trainlog.trace import FloatArray

CENTRE = 130.0
"""bpm taken off both rates before squaring, so that sums keep their precision."""

SUMS = (
    "n",
    "d",
    "dd",
    "size",
    "percent",
    "within_bpm",
    "within_percent",
    "within_either",
    "x",
    "y",
    "xx",
    "yy",
    "xy",
)


def session_sums(reference: FloatArray, tested: FloatArray) -> FloatArray:
    """Sums over a session's epochs, in the order of ``SUMS``.

    Parameters
    ----------
    reference, tested : array, shape (n,)
        Heart rate in bpm, without gaps, reference positive.

    Returns
    -------
    array, shape (13,)
        Count; differences, their squares, sizes, and sizes in percent of the reference; counts within
        5 bpm, 10%, and either; and both rates less ``CENTRE``, their squares and product.
    """
    d = tested - reference
    size = np.abs(d)
    x, y = reference - CENTRE, tested - CENTRE
    return np.array(
        [
            len(d),
            d.sum(),
            d @ d,
            size.sum(),
            100 * (size / reference).sum(),
            (size <= CLOSE_BPM).sum(),
            (size <= reference * CLOSE_PERCENT / 100).sum(),
            close(reference, tested).sum(),
            x.sum(),
            y.sum(),
            x @ x,
            y @ y,
            x @ y,
        ],
        dtype=float,
    )


def pooled_figures(sums: FloatArray, weights: FloatArray) -> dict[str, FloatArray]:
    """Figures of weighted sets of sessions.

    Parameters
    ----------
    sums : array, shape (sessions, 13)
        Rows of ``session_sums``.
    weights : array, shape (sets, sessions)
        How often each set holds each session.

    Returns
    -------
    dict of str to array, shape (sets,)
        Names as the fields of ``pooled.PooledAgreement``; NaN where undefined.
    """
    total = dict(zip(SUMS, (weights @ sums).T, strict=True))
    n = total["n"]
    bias = total["d"] / n
    figures = {
        "bias": bias,
        "mean_absolute_error": total["size"] / n,
        "root_mean_squared_error": np.sqrt(total["dd"] / n),
        "mean_absolute_percentage_error": total["percent"] / n,
        "share_within_5_bpm": total["within_bpm"] / n,
        "share_within_10_percent": total["within_percent"] / n,
        "share_within_either": total["within_either"] / n,
    }
    with np.errstate(divide="ignore", invalid="ignore"):
        figures |= _limits(sums, weights, n, bias)
        figures |= _likeness(sums, weights, total)
    return figures


def _limits(sums: FloatArray, weights: FloatArray, n: FloatArray, bias: FloatArray) -> dict[str, FloatArray]:
    """Repeated-measures limits, true value varies (Bland & Altman 2007), with sessions as the groups."""
    sizes = sums[:, 0]
    means = sums[:, 1] / sizes
    sessions = weights.sum(axis=1)
    spread = weights @ (sizes * means**2) - n * bias**2
    mean_square_between = spread / (sessions - 1)
    within = (weights @ (sums[:, 2] - sizes * means**2)) / (n - sessions)
    per_session = (n**2 - weights @ sizes**2) / ((sessions - 1) * n)
    between = np.maximum(mean_square_between - within, 0.0) / per_session
    total = between + within
    reach = LIMITS_MULTIPLE * np.sqrt(total)
    return {
        "sd": np.sqrt(total),
        "between_sd": np.sqrt(between),
        "within_sd": np.sqrt(np.maximum(within, 0.0)),
        "lower_limit": bias - reach,
        "upper_limit": bias + reach,
    }


def _likeness(sums: FloatArray, weights: FloatArray, total: dict[str, FloatArray]) -> dict[str, FloatArray]:
    """Correlations and regression slopes, from the moments of all epochs and of those within sessions."""
    n = total["n"]
    xx = total["xx"] / n - (total["x"] / n) ** 2
    yy = total["yy"] / n - (total["y"] / n) ** 2
    xy = total["xy"] / n - total["x"] * total["y"] / n**2
    apart = (total["y"] - total["x"]) / n
    size, x, y = sums[:, 0], sums[:, 8], sums[:, 9]
    within_xx = weights @ (sums[:, 10] - x**2 / size)
    within_yy = weights @ (sums[:, 11] - y**2 / size)
    within_xy = weights @ (sums[:, 12] - x * y / size)
    slope = (yy - xx + np.sqrt((yy - xx) ** 2 + 4 * xy**2)) / (2 * xy)
    mean_power = (xx + yy + 2 * xy) / 4
    mean_and_difference = (yy - xx) / 2
    between = 2 * n * mean_power / (n - 1)
    error = n * (xx + yy - 2 * xy) / (2 * (n - 1))
    raters = n * apart**2 / 2
    targets = between
    within = (n - 1) / n * error + raters / n
    return {
        "pearson_r": _ratio(xy, np.sqrt(xx * yy)).clip(-1, 1),
        "concordance": _ratio(2 * xy, xx + yy + apart**2),
        "repeated_measures_r": _ratio(within_xy, np.sqrt(within_xx * within_yy)).clip(-1, 1),
        "icc_1_1": _ratio(targets - within, targets + within),
        "icc_2_1": _ratio(targets - error, targets + error + 2 * (raters - error) / n),
        "icc_3_1": _ratio(targets - error, targets + error),
        "icc_1_k": _ratio(targets - within, targets),
        "icc_2_k": _ratio(targets - error, targets + (raters - error) / n),
        "icc_3_k": _ratio(targets - error, targets),
        "reference_mean": CENTRE + total["x"] / n,
        "reference_sd": np.sqrt(np.maximum(xx, 0.0) * n / (n - 1)),
        "tested_mean": CENTRE + total["y"] / n,
        "tested_sd": np.sqrt(np.maximum(yy, 0.0) * n / (n - 1)),
        "least_products_slope": np.sign(xy) * np.sqrt(_ratio(yy, xx)),
        "deming_slope": np.where(np.abs(xy) > 1e-9, slope, math.nan),
        "regression_slope": _ratio(mean_and_difference, mean_power),
    }


def _ratio(part: FloatArray, whole: FloatArray) -> FloatArray:
    return np.where(np.abs(whole) > 1e-9, part / np.where(np.abs(whole) > 1e-9, whole, 1.0), math.nan)
