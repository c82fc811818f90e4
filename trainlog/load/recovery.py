"""Estimated hours until ready for the next hard session.

Method: a published review gives the hours within which the heart's autonomic control has recovered: up to
24 h after low intensity, 24 to 48 h after threshold work, at least 48 h after high intensity. The minutes
above the athlete's two thresholds decide how far a session belongs to the next range: 20 minutes above
the first threshold make it threshold work in full, 10 above the second high-intensity work, fewer minutes
in proportion. Where in the range the session lies is told by its load over the athlete's own chronic load
of a day, r: at ``r f / (1 + r f)`` of the way, so at the middle for a usual day's load and toward the
upper end the heavier the session. The factor f, log-normal about 1, is how slowly this athlete recovers,
which nobody has told us: it is drawn once per athlete, shared by all sessions, and spreads the result
over most of the range. The result is draws, to be shown as a range, never as one number.

Weakness: the ranges concern the heart's autonomic control and say little of muscle, tendon or mood, least
of all after lifting, for which the review found hardly any data; "at least 48 h" has no upper end, and
the 72 h that stand for it are ours, as are the minutes, the form of the curve and the spread; people
differ widely; sleep, heat, illness, stress and age are not looked at, and sessions add up only through
the later of their hours. It is a range to think with, no diagnosis, and how the athlete feels comes
first.
"""

from __future__ import annotations

import numpy as np

from trainlog.load.draws import athlete_seed, standard_normals
from trainlog.trace import FloatArray

RECOVERY_HOURS = ((0.0, 24.0), (24.0, 48.0), (48.0, 72.0))
"""Hours after low intensity, threshold work and high intensity, one pair for each of ``intensity.DOMAINS``.

Stanley J, Peake JM, Buchheit M (2013), Sports Med 43(12):1259-1277, as a secondary source quotes it: up to
24 h, 24-48 h, at least 48 h. The 72 is ours: the source gives no upper end."""

THRESHOLD_MINUTES = 20.0
"""Minutes above the first threshold that make a session threshold work in full (our rule, no source)."""

HIGH_MINUTES = 10.0
"""Minutes above the second threshold that make it high-intensity work in full (our rule, no source)."""

PERSONAL_SPREAD = 1.0
"""Standard deviation of the log of the athlete's own factor (ours, no source): at the load of a usual day
80% of athletes lie between 22% and 78% of the range."""


def recovery_hours(
    minutes_in_domains: FloatArray, load: FloatArray, usual_daily_load: FloatArray, seed: int
) -> FloatArray:
    """Hours from the end of a session until ready for the next hard one, as draws.

    Parameters
    ----------
    minutes_in_domains : array, shape (DRAWS, 3) or (3,)
        Minutes below, between and above the two thresholds: ``intensity.seconds_in_domains`` over 60, times
        whatever the sensor's doubt does to it.
    load : array, shape (DRAWS,)
        Load of the session.
    usual_daily_load : array, shape (DRAWS,)
        The athlete's chronic load before the session, in load a day of the same kind.
    seed : int
        The athlete's seed, from which the own factor is drawn.

    Returns
    -------
    array, shape (DRAWS,)
        Hours, 0 to 72; ``draws.interval`` makes the range. In each draw more load, or a minute moved to a
        higher domain, never shortens it. Where nothing was usual, any load lies at the upper end.

    Raises
    ------
    ValueError
        If minutes or a load are negative or no finite number.

    References
    ----------
    Stanley J, Peake JM, Buchheit M (2013). Sports Med 43(12):1259-1277: the ranges. The way into them is
    ours: see the module.

    Examples
    --------
    >>> from trainlog.load.draws import DRAWS, interval
    >>> usual = np.full(DRAWS, 60.0)
    >>> easy = recovery_hours(np.array([60.0, 0.0, 0.0]), np.full(DRAWS, 50.0), usual, seed=1)
    >>> hard = recovery_hours(np.array([30.0, 10.0, 20.0]), np.full(DRAWS, 120.0), usual, seed=1)
    >>> [round(hours) for hours in interval(easy)], [round(hours) for hours in interval(hard)]
    ([5, 11, 18], [57, 64, 69])
    """
    minutes = np.asarray(minutes_in_domains, dtype=float)
    if not all(np.all((values >= 0) & (values < np.inf)) for values in (minutes, load, usual_daily_load)):
        raise ValueError("minutes and loads must be known and cannot be negative")
    low, high = _range(minutes)
    personal = np.exp(PERSONAL_SPREAD * standard_normals(athlete_seed(seed, "recovery")))
    heaviness = np.asarray(load * personal, dtype=float)
    whole = usual_daily_load + heaviness
    way = np.divide(heaviness, whole, out=np.zeros(np.shape(whole)), where=whole > 0)
    return np.asarray(low + (high - low) * way)


def hours_until_ready(hours: FloatArray, hours_since: FloatArray) -> FloatArray:
    """Hours from now until ready, after several sessions.

    Parameters
    ----------
    hours : array, shape (sessions, DRAWS)
        ``recovery_hours`` of each recent session.
    hours_since : array, shape (sessions,)
        Hours since each of them ended.

    Returns
    -------
    array, shape (DRAWS,)
        What is left of the session that takes longest; 0 where all are over. Sessions are not added up.

    Raises
    ------
    ValueError
        If there is no session, or one has not ended yet.

    Examples
    --------
    >>> hours_until_ready(np.array([[60.0, 50.0], [10.0, 20.0]]), np.array([45.0, 3.0]))
    array([15., 17.])
    """
    if not len(hours):
        raise ValueError("without a session there is nothing to recover from")
    since = np.asarray(hours_since, dtype=float)
    if not np.all(since >= 0):
        raise ValueError("every session must have ended")
    left: FloatArray = np.maximum(hours - since[:, None], 0.0).max(axis=0)
    return left


def _range(minutes: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Lower and upper end in hours, sliding from one published range to the next with the minutes."""
    _, threshold, high = np.moveaxis(minutes, -1, 0)
    to_high = np.minimum(high / HIGH_MINUTES, 1.0)
    to_threshold = np.maximum(np.minimum((threshold + high) / THRESHOLD_MINUTES, 1.0), to_high)
    low_ends, high_ends = np.array(RECOVERY_HOURS).T
    ends = [
        ends[0] + to_threshold * (ends[1] - ends[0]) + to_high * (ends[2] - ends[1])
        for ends in (low_ends, high_ends)
    ]
    return ends[0], ends[1]
