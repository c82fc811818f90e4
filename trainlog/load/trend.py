"""Load over days: acute and chronic load, a slow and a fast response, and their update.

All of it works on arrays of daily load, days first and draws last, so that draw k of a day meets draw k
of every other day and what sessions share stays shared.

Days: every day of the span has a row, without gaps. A day of rest is a row of zeros. A day that is marked
unknown is a row of draws too, made by the caller (from the athlete's own days, say), so its doubt is
carried on; a NaN is refused with ValueError, since a filter would spread it to every later day and leaving
it out would count it as rest.

What happened on a day changes only that day and later ones: ``Trend`` after a change is ``updated`` from the
first changed day, and equals to the bit what the whole span would give.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from trainlog.load.days import check_known, recursive
from trainlog.load.impulse_response import FAST_DAYS, SLOW_DAYS, response
from trainlog.trace import FloatArray

ACUTE_DAYS, CHRONIC_DAYS = 7.0, 28.0
"""Days N of the two averages (Williams et al. 2017: typically 7 and 28)."""


@dataclass(frozen=True)
class TrendDays:
    """Spans of the averages and time constants of the responses.

    Attributes
    ----------
    acute, chronic : float
        N of the exponentially weighted averages, in days.
    slow, fast : float
        Time constants of the responses, in days.
    """

    acute: float = ACUTE_DAYS
    chronic: float = CHRONIC_DAYS
    slow: float = SLOW_DAYS
    fast: float = FAST_DAYS


@dataclass(frozen=True, eq=False)
class TrendState:
    """All that later days need to know of the days up to one.

    Attributes
    ----------
    acute, chronic, slow, fast : array, shape (DRAWS,)
        Averages and responses at the end of that day, in the unit of the load.
    """

    acute: FloatArray
    chronic: FloatArray
    slow: FloatArray
    fast: FloatArray


@dataclass(frozen=True, eq=False)
class Trend:
    """Averages and responses at the end of each day.

    Attributes
    ----------
    acute, chronic : array, shape (days, DRAWS)
        Exponentially weighted averages of daily load.
    slow, fast : array, shape (days, DRAWS)
        Decaying sums of daily load.
    """

    acute: FloatArray
    chronic: FloatArray
    slow: FloatArray
    fast: FloatArray

    def after(self, day: int) -> TrendState:
        """State at the end of a day, from which the next can be continued."""
        return TrendState(self.acute[day], self.chronic[day], self.slow[day], self.fast[day])


def trend(daily: FloatArray, days: TrendDays = TrendDays(), before: TrendState | None = None) -> Trend:
    """Averages and responses of a span of days, from nothing or from the state before it.

    Parameters
    ----------
    daily : array, shape (days, DRAWS)
        Load of each day; see the module for rest and unknown days.
    days : TrendDays
        Spans and time constants.
    before : TrendState or None
        State at the end of the day before the first; None at the start of a log, where the averages start
        at the first day's load and the responses at nothing.

    Returns
    -------
    Trend
        One row for each day.

    Raises
    ------
    ValueError
        If a load is not a finite number or a span is out of range.

    References
    ----------
    Williams S et al. (2017), Br J Sports Med 51:209. Morton RH, Fitz-Clarke JR, Banister EW (1990), J Appl
    Physiol 69(3):1171-1177.

    Examples
    --------
    >>> week = np.full((7, 1), 100.0)
    >>> whole = trend(np.concatenate([week, 2 * week]))
    >>> later = trend(2 * week, before=trend(week).after(-1))
    >>> bool(np.all(whole.acute[7:] == later.acute))
    True
    """
    return Trend(
        exponentially_weighted(daily, days.acute, before.acute if before else None),
        exponentially_weighted(daily, days.chronic, before.chronic if before else None),
        response(daily, days.slow, before.slow if before else None),
        response(daily, days.fast, before.fast if before else None),
    )


def updated(old: Trend, daily: FloatArray, first_changed: int, days: TrendDays = TrendDays()) -> Trend:
    """Trend after the loads of a day and any later ones have changed, or days have been added.

    Parameters
    ----------
    old : Trend
        Trend before the change, made with the same ``days``.
    daily : array, shape (days, DRAWS)
        Load of every day as it now is.
    first_changed : int
        Index of the first day whose load is not what it was; the earlier days are neither read nor
        computed again.
    days : TrendDays
        Spans and time constants.

    Returns
    -------
    Trend
        Equal to ``trend(daily, days)`` to the bit, if the old one was the trend of the same first day.

    Raises
    ------
    ValueError
        If the first changed day is negative or leaves a gap after the old trend, or as in ``trend``.

    Examples
    --------
    >>> loads = np.array([[100.0], [0.0], [50.0]])
    >>> old = trend(loads)
    >>> loads[2] = 80.0
    >>> bool(np.all(updated(old, loads, 2).slow == trend(loads).slow))
    True
    """
    if not 0 <= first_changed <= len(old.acute):
        raise ValueError("the first changed day must lie in the old trend or follow it at once")
    new = trend(daily[first_changed:], days, old.after(first_changed - 1) if first_changed else None)
    pairs = [(getattr(old, name), getattr(new, name)) for name in ("acute", "chronic", "slow", "fast")]
    return Trend(*[np.concatenate([kept[:first_changed], changed]) for kept, changed in pairs])


def smoothing(days: float) -> float:
    """Weight of the newest day, ``2 / (N + 1)``, in an exponentially weighted average of N days.

    Parameters
    ----------
    days : float
        N, at least 1.

    Returns
    -------
    float
        Above 0 and at most 1.

    Raises
    ------
    ValueError
        If N is below 1.

    References
    ----------
    Williams S, West S, Cross MJ, Stokes KA (2017). Br J Sports Med 51:209.

    Examples
    --------
    >>> smoothing(7)
    0.25
    """
    if not days >= 1:
        raise ValueError("an average needs at least one day")
    return 2 / (days + 1)


def exponentially_weighted(daily: FloatArray, days: float, before: FloatArray | None = None) -> FloatArray:
    """Exponentially weighted average of daily load: acute load with N = 7, chronic load with N = 28.

    Parameters
    ----------
    daily : array, shape (days, DRAWS)
        Load of each day.
    days : float
        N of ``smoothing``. It is no window: with N = 28 a seventh of the weight (13.5%) lies on days more
        than 28 days back.
    before : array, shape (DRAWS,), or None
        Average at the end of the day before the first; None seeds with the first day's load, which then
        counts for more than it should for about N days.

    Returns
    -------
    array, shape (days, DRAWS)
        Average at the end of each day, today counted, in the unit of the load.

    Raises
    ------
    ValueError
        If a load is not a finite number or N is below 1.

    References
    ----------
    Williams S, West S, Cross MJ, Stokes KA (2017). Br J Sports Med 51:209.

    Examples
    --------
    >>> exponentially_weighted(np.array([[100.0], [200.0], [0.0]]), 7).ravel()
    array([100.  , 125.  ,  93.75])
    """
    share = smoothing(days)
    return recursive(daily, share, 1 - share, before, seed_with_first=True)


def rolling_mean(daily: FloatArray, days: int) -> FloatArray:
    """Plain mean of the last days, today counted.

    Parameters
    ----------
    daily : array, shape (days, DRAWS)
        Load of each day.
    days : int
        Length of the window. A day's mean depends on these days alone, so after a change only as many
        rows from it on have to be computed again.

    Returns
    -------
    array, shape (days, DRAWS)
        NaN for the first days, before the window is full.

    Raises
    ------
    ValueError
        If a load is not a finite number or the window holds no day.

    Examples
    --------
    >>> rolling_mean(np.array([[100.0], [200.0], [0.0]]), 2).ravel()
    array([ nan, 150., 100.])
    """
    check_known(daily)
    if days < 1:
        raise ValueError("an average needs at least one day")
    means = np.full(daily.shape, np.nan)
    full = len(daily) - days + 1
    if full > 0:
        # Added up day by day, and not from running sums, so that a later start changes no bit.
        means[days - 1 :] = sum(daily[lag : lag + full] for lag in range(days)) / days
    return means


def ratio(acute: FloatArray, chronic: FloatArray) -> FloatArray:
    """Acute over chronic load, to describe a change of habit and for nothing else.

    Parameters
    ----------
    acute, chronic : array, shape (..., DRAWS)
        Averages of daily load of any kind, both of the same kind.

    Returns
    -------
    array
        NaN where there is no chronic load.

    Notes
    -----
    It carries no threshold and predicts no injury. Where the chronic span contains the acute one the two
    are correlated by construction, 0.5 for independent weeks (Lolli 2019), and a ratio with contrived
    chronic loads was associated with injury about as the real one was, without meaningful advantage in
    prediction over the acute load alone (Impellizzeri 2020).

    References
    ----------
    Lolli L et al. (2019). Br J Sports Med 53:921. Impellizzeri FM et al. (2020). Sports Med,
    doi 10.1007/s40279-020-01378-6.

    Examples
    --------
    >>> ratio(np.array([120.0, 0.0]), np.array([100.0, 0.0]))
    array([1.2, nan])
    """
    result = np.full(np.broadcast_shapes(np.shape(acute), np.shape(chronic)), np.nan)
    np.divide(acute, chronic, out=result, where=np.asarray(chronic) > 0)
    return result
