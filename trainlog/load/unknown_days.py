"""Days of which too little is known, drawn from the athlete's own days before them."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from trainlog.load.days import check_known
from trainlog.trace import FloatArray

DAYS_BEFORE = 56
"""Days before an unknown one from which it is drawn: eight weeks, so that each weekday stands in them
several times and a season long past does not (our choice, no source)."""


def with_unknown_drawn(
    logged: FloatArray, unknown: NDArray[np.bool_], uniforms: Callable[[int], FloatArray]
) -> FloatArray:
    """Daily loads in which each unknown day is drawn from the known days before it.

    Draw k of an unknown day is draw k of one of the known days among the ``DAYS_BEFORE`` days before it,
    days of rest among them, so what the athlete's sessions share stays shared; it is never less than draw
    k of what is logged on that day. Where none of those days is known, all known days before it stand in;
    where there is none at all, the day is what is logged on it.

    Parameters
    ----------
    logged : array, shape (days, DRAWS)
        Load of what is logged on each day, rest as 0.
    unknown : array of bool, shape (days,)
        Days on which there may have been more.
    uniforms : callable
        Uniform draws in (0, 1), shape (DRAWS,), for the place of a day in the array. It decides which day
        each draw is taken from, so it must not depend on anything that comes later.

    Returns
    -------
    array, shape (days, DRAWS)
        In the unit of the load. No day depends on a later one.

    Raises
    ------
    ValueError
        If a load is not a finite number.

    Examples
    --------
    >>> logged = np.array([[10.0, 10.0], [30.0, 30.0], [0.0, 20.0]])
    >>> with_unknown_drawn(logged, np.array([False, False, True]), lambda day: np.array([0.9, 0.2]))[2]
    array([30., 20.])
    """
    check_known(logged)
    drawn = np.array(logged, dtype=float)
    places = np.arange(logged.shape[1])
    for day in np.flatnonzero(unknown):
        known = np.flatnonzero(~unknown[:day])
        recent = known[known >= day - DAYS_BEFORE]
        pool = recent if len(recent) else known
        if len(pool):
            chosen = pool[(uniforms(int(day)) * len(pool)).astype(int)]
            drawn[day] = np.maximum(logged[chosen, places], logged[day])
    return drawn
