"""Foster's monotony and strain of a week.

Days as in ``trend``: rest is a row of zeros, an unknown day a row of draws.
"""

from __future__ import annotations

import numpy as np

from trainlog.load.days import check_known
from trainlog.trace import FloatArray


def monotony(daily: FloatArray) -> FloatArray:
    """Foster's monotony: mean over standard deviation of the daily loads of a week.

    Parameters
    ----------
    daily : array, shape (days, DRAWS)
        Load of each day of the week, days of rest as 0.

    Returns
    -------
    array, shape (DRAWS,)
        NaN where all days have the same load, a week of rest too: the mean over nothing is not defined,
        and no cap is put in its place. Nearly equal days give very large values.

    Raises
    ------
    ValueError
        If a load is not a finite number or there are fewer than two days.

    Notes
    -----
    The standard deviation has the divisor n - 1. Nothing we have read settles which one Foster used; with
    n every value would be higher by the factor sqrt(7/6), 8%, in a week of seven days.

    References
    ----------
    Foster C (1998). Med Sci Sports Exerc 30:1164-1168.

    Examples
    --------
    >>> monotony(np.array([[600.0], [200.0], [400.0], [500.0], [100.0], [650.0], [0.0]])).round(4)
    array([1.3817])
    """
    check_known(daily)
    if len(daily) < 2:
        raise ValueError("monotony needs at least two days")
    # Equality and not the deviation decides, which rounding may leave a little above nothing.
    varies = np.ptp(daily, axis=0) > 0
    result = np.full(daily.shape[1:], np.nan)
    np.divide(daily.mean(axis=0), daily.std(axis=0, ddof=1), out=result, where=varies)
    return result


def strain(daily: FloatArray) -> FloatArray:
    """Foster's strain: the week's load times its monotony.

    Parameters
    ----------
    daily : array, shape (days, DRAWS)
        Load of each day of the week, days of rest as 0.

    Returns
    -------
    array, shape (DRAWS,)
        In the unit of the load; NaN where monotony is.

    Raises
    ------
    ValueError
        As in ``monotony``.

    References
    ----------
    Foster C (1998). Med Sci Sports Exerc 30:1164-1168.

    Examples
    --------
    >>> strain(np.array([[600.0], [200.0], [400.0], [500.0], [100.0], [650.0], [0.0]])).round(2)
    array([3385.16])
    """
    return daily.sum(axis=0) * monotony(daily)
