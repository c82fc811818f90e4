"""Whether the morning resting rate has settled away from the one that loads go by."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from trainlog.trace import FloatArray

SETTLED_DAYS, LEAST_MORNINGS = 14, 7
"""Days looked at, and how many of them need a value (our rule, no source)."""

LEAST_CHANGE = 3.0
"""bpm; the repeatability of a resting rate (common practice, no source)."""

ERRORS_AWAY = 2.0
"""Standard errors of the mean by which it has to differ (our rule, no source)."""

BEYOND_DECLINED = 2.0
"""bpm by which a figure has to go beyond one that was declined (our rule, no source)."""


@dataclass(frozen=True)
class SettledRate:
    """Mean of the mornings where it differs from what was entered.

    Attributes
    ----------
    mean, error : float
        Mean of the mornings and its standard error, in bpm.
    mornings : int
        Mornings with a value.
    """

    mean: float
    error: float
    mornings: int


def settled_resting(mornings: FloatArray, entered: float) -> SettledRate | None:
    """Settled change of the resting rate, if there is one.

    Our rule, no source: the mean of the last fourteen days differs from the entered rate by more than 3 bpm
    and by more than twice its own standard error, and rests on at least seven mornings.

    Parameters
    ----------
    mornings : array, shape (days,)
        Resting rate of each of the days in bpm, NaN where none was noted; the last ``SETTLED_DAYS`` count.
    entered : float
        Resting rate that loads go by, in bpm.

    Returns
    -------
    SettledRate or None
        None where there is no settled change.

    Notes
    -----
    The standard error takes mornings as independent. Neighbouring ones are not quite, so it is somewhat too
    small; the 3 bpm keep that from mattering.

    Examples
    --------
    >>> settled_resting(np.array([54.0, 55, 56, 54, 55, 56, 55, 55]), 50.0).mean
    55.0
    """
    known = np.asarray(mornings, dtype=float)[-SETTLED_DAYS:]
    known = known[np.isfinite(known)]
    if len(known) < LEAST_MORNINGS:
        return None
    mean, error = float(known.mean()), float(known.std(ddof=1) / math.sqrt(len(known)))
    change = abs(mean - entered)
    if change <= LEAST_CHANGE or change <= ERRORS_AWAY * error:
        return None
    return SettledRate(mean, error, len(known))


def goes_beyond(value: float, declined: float, entered: float) -> bool:
    """Whether a figure is worth offering again after another was declined.

    Parameters
    ----------
    value, declined, entered : float
        Figure that would be offered, the one that was declined, and the one that loads go by; bpm.

    Returns
    -------
    bool
        True if the figure lies on the other side of what was entered, or at least 2 bpm further from it.

    Examples
    --------
    >>> goes_beyond(196.0, 195.0, 190.0), goes_beyond(197.0, 195.0, 190.0), goes_beyond(46.0, 55.0, 50.0)
    (False, True, True)
    """
    if (value - entered) * (declined - entered) < 0:
        return True
    return abs(value - entered) >= abs(declined - entered) + BEYOND_DECLINED
