"""What every filter over days asks of them, and the recursion that they share."""

from __future__ import annotations

import numpy as np

from trainlog.trace import FloatArray


def check_known(daily: FloatArray) -> None:
    """Refuse days without a load: rest is 0, and a day marked unknown is given as draws.

    Parameters
    ----------
    daily : array, shape (days, DRAWS)
        Load of each day.

    Raises
    ------
    ValueError
        If a load is not a finite number.
    """
    if not np.all(np.isfinite(daily)):
        raise ValueError("every day needs a load: rest is 0, and an unknown day is given as draws")


def recursive(
    daily: FloatArray, weight: float, kept: float, before: FloatArray | None, *, seed_with_first: bool
) -> FloatArray:
    """``y(t) = kept * y(t - 1) + weight * load(t)``, day by day.

    Parameters
    ----------
    daily : array, shape (days, DRAWS)
        Load of each day.
    weight, kept : float
        Of the day's load, and of the value of the day before.
    before : array, shape (DRAWS,), or None
        Value of the day before the first.
    seed_with_first : bool
        Whether, without one, the first value is the first load or that load times its weight.

    Returns
    -------
    array, shape (days, DRAWS)
        Computed in the same steps from wherever it starts, so a continuation is equal to the bit.

    Raises
    ------
    ValueError
        If a load is not a finite number.
    """
    check_known(daily)
    result = np.empty(daily.shape)
    previous = before
    for day, load in enumerate(daily):
        if previous is None:
            result[day] = load if seed_with_first else weight * load
        else:
            result[day] = kept * previous + weight * load
        previous = result[day]
    return result
