"""Lin's concordance and the intraclass correlations: agreement as one number between -1 and 1."""

from __future__ import annotations

import math
from dataclasses import asdict, dataclass

import numpy as np
from scipy import special

from accuracy.core.agreement.differences import common, pearson_r, plain
from trainlog.trace import FloatArray


@dataclass(frozen=True)
class Concordance:
    """Lin's coefficient with both of its 95% intervals.

    Attributes
    ----------
    coefficient : float
        rho_c, moments on divisor n.
    bias_correction : float
        C_b = rho_c / r: 1 where the best line is the line of identity.
    standard_error : float
        With the correction of 2000.
    asymptotic_interval, z_interval : tuple of float
        On the coefficient's own scale, and by its inverse hyperbolic tangent (preferred).
    """

    coefficient: float
    bias_correction: float
    standard_error: float
    asymptotic_interval: tuple[float, float]
    z_interval: tuple[float, float]

    def as_dict(self) -> dict:
        """Figures by name, without unit, ready for JSON."""
        return plain(asdict(self))


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


def concordance_with_intervals(
    reference: FloatArray, tested: FloatArray, *, size: float | None = None
) -> Concordance:
    """Lin's concordance with its standard error and both intervals.

    Parameters
    ----------
    reference, tested : array, shape (n,)
        Heart rate in bpm; seconds missing in either are left out.
    size : float, optional
        Number of independent pairs, for the standard error; by default all of them.

    Returns
    -------
    Concordance
        NaN where undefined: a trace that never changes, or no more than two pairs.

    Raises
    ------
    ValueError
        Without two common seconds.

    References
    ----------
    Lin LI (1989). Biometrics 45:255-268; correction (2000) 56:324-325.
    """
    x, y = common(reference, tested)
    n = len(x) if size is None else size
    c, r = concordance(x, y), pearson_r(x, y)
    nothing = (math.nan, math.nan)
    if math.isnan(c) or math.isnan(r) or r == 0 or n <= 2:
        return Concordance(c, math.nan, math.nan, nothing, nothing)
    u = float(x.mean() - y.mean()) / math.sqrt(float(x.std() * y.std()))
    squared = (
        (1 - r**2) * c**2 * (1 - c**2) / r**2 + 2 * c**3 * (1 - c) * u**2 / r - c**4 * u**4 / (2 * r**2)
    ) / (n - 2)
    error = math.sqrt(max(squared, 0.0))
    asymptotic = (c - 1.959963984540054 * error, c + 1.959963984540054 * error)
    if abs(c) >= 1:
        return Concordance(c, c / r, error, asymptotic, (c, c))
    z, z_error = math.atanh(c), error / (1 - c**2)
    by_z = math.tanh(z - 1.959963984540054 * z_error), math.tanh(z + 1.959963984540054 * z_error)
    return Concordance(c, c / r, error, asymptotic, by_z)


@dataclass(frozen=True)
class IntraclassCorrelations:
    """The six forms of Shrout and Fleiss, by their names.

    The first number is the model (1: every target has its own raters; 2: raters are a random sample; 3: these
    raters and no others), the second what is rated (1: a single rating; k: the mean of all). Two sensors that
    are to be interchangeable, bias included: ICC(2,1).
    """

    icc_1_1: float
    icc_2_1: float
    icc_3_1: float
    icc_1_k: float
    icc_2_k: float
    icc_3_k: float

    def as_dict(self) -> dict:
        """Figures by name, without unit, ready for JSON."""
        return plain(asdict(self))


def intraclass_correlations(ratings: FloatArray) -> IntraclassCorrelations:
    """Intraclass correlations from the two-way analysis of variance.

    Parameters
    ----------
    ratings : array, shape (targets, raters)
        Without gaps; for a pair ``np.column_stack([reference, tested])``.

    Returns
    -------
    IntraclassCorrelations
        NaN where nothing varies.

    Raises
    ------
    ValueError
        If there are fewer than two targets or raters, or a rating is missing.

    References
    ----------
    Shrout PE, Fleiss JL (1979). Psychol Bull 86:420-428.
    """
    n, k, between, of_raters, within, error = _mean_squares(ratings)
    return IntraclassCorrelations(
        _ratio(between - within, between + (k - 1) * within),
        _ratio(between - error, between + (k - 1) * error + k * (of_raters - error) / n),
        _ratio(between - error, between + (k - 1) * error),
        _ratio(between - within, between),
        _ratio(between - error, between + (of_raters - error) / n),
        _ratio(between - error, between),
    )


def absolute_agreement_interval(ratings: FloatArray, *, size: float | None = None) -> tuple[float, float]:
    """95% confidence interval of ICC(2,1): single ratings, raters a random sample, bias counted in.

    Parameters
    ----------
    ratings : array, shape (targets, raters)
        Without gaps; for a pair ``np.column_stack([reference, tested])``.
    size : float, optional
        Number of independent targets; by default all of them.

    Returns
    -------
    tuple of float
        From the F distribution, degrees of freedom by Satterthwaite; NaN where nothing varies or no more
        than two targets are independent.

    Raises
    ------
    ValueError
        As ``intraclass_correlations``.

    References
    ----------
    Shrout PE, Fleiss JL (1979). Psychol Bull 86:420-428.
    McGraw KO, Wong SP (1996). Psychol Methods 1:30-46; correction 1:390 (table 7, case 2A, ICC(A,1)).
    """
    targets, k, between, of_raters, _, error = _mean_squares(ratings)
    n = targets if size is None else size
    # Fewer independent targets tell as much of each rating's spread, and less of the raters' means.
    of_raters = error + (of_raters - error) * n / targets
    icc = _ratio(between - error, between + (k - 1) * error + k * (of_raters - error) / n)
    if n <= 2 or math.isnan(icc) or error <= 1e-12 * between or icc >= 1:
        return math.nan, math.nan
    a = k * icc / (n * (1 - icc))
    b = 1 + k * icc * (n - 1) / (n * (1 - icc))
    if abs(a * of_raters + b * error) <= 1e-12 * between:
        return math.nan, math.nan
    freedom = (a * of_raters + b * error) ** 2 / (
        (a * of_raters) ** 2 / (k - 1) + (b * error) ** 2 / ((n - 1) * (k - 1))
    )
    low, high = special.fdtri(n - 1, freedom, 0.975), special.fdtri(freedom, n - 1, 0.975)
    if not (math.isfinite(low) and math.isfinite(high)):
        return math.nan, math.nan
    others = k * of_raters + (k * n - k - n) * error
    return (
        float(n * (between - low * error) / (low * others + n * between)),
        float(n * (high * between - error) / (others + n * high * between)),
    )


def _mean_squares(ratings: FloatArray) -> tuple[int, int, float, float, float, float]:
    """Targets, raters, and mean squares between targets, of raters, within targets and of error."""
    ratings = np.asarray(ratings, dtype=float)
    if ratings.ndim != 2 or min(ratings.shape) < 2 or not np.isfinite(ratings).all():
        raise ValueError("intraclass correlations need two targets, two raters and every rating")
    n, k = ratings.shape
    grand = float(ratings.mean())
    targets, raters = ratings.mean(axis=1), ratings.mean(axis=0)
    between = k * float(((targets - grand) ** 2).sum()) / (n - 1)
    of_raters = n * float(((raters - grand) ** 2).sum()) / (k - 1)
    within = float(((ratings - targets[:, None]) ** 2).sum()) / (n * (k - 1))
    error = max((within * n - of_raters) / (n - 1), 0.0)
    return n, k, between, of_raters, within, error


def _ratio(part: float, whole: float) -> float:
    return part / whole if abs(whole) > 1e-12 else math.nan
