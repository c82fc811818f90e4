"""How much narrower a usual week's load would be known after one more pair: closed form on draws.

What a further pair would show, and what the week's load is, are two vectors of draws in the same order; what
they share is what the pair would teach. The best straight-line estimate of the week from the pair leaves the
variance Var(W) - Cov(W, y)^2 / Var(y). On average the true posterior leaves no more than that, since no
straight line foretells better than the conditional mean. What a pair would teach of the scales (how far
sessions scatter, how much cells differ) is not in it. What a strap measures of its own session is another
gain, of that week alone: ``half_width_when_worn``.

References
----------
Goldstein M, Wooff D (2007). Bayes Linear Statistics: Theory and Methods, chapter 3.
Raiffa H, Schlaifer R (1961). Applied Statistical Decision Theory, chapter 5 (preposterior analysis).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from trainlog.load.draws import interval
from trainlog.trace import FloatArray

NOISE_WIDTHS = 2.0
"""Standard errors of a correlation without any, 1 / sqrt(draws), up to which it counts as nothing (common
practice, no source)."""


@dataclass(frozen=True, eq=False)
class UsualWeeks:
    """Loads of several weeks of a log, one row a week, the doubt of the sensors alone.

    Attributes
    ----------
    loads : array, shape (weeks, draws)
        Whole weeks: whatever their loads came from.
    from_wrist : array, shape (weeks, draws)
        What of it came from tested sensors alone. The rest shares nothing with what a pair would show.
    """

    loads: FloatArray
    from_wrist: FloatArray

    @property
    def half_width(self) -> float:
        """Half-width of the 80% interval of a week over its load, sensor doubt only; 0 without any load.

        Weeks are pooled as roots of sums of squares, so that where all are known equally well this is the
        half-width of each, and a week of rest does not count.
        """
        ends = [interval(load) for load in self.loads if load.any()]
        whole = sum(median**2 for _, median, _ in ends)
        return float(np.sqrt(sum(((high - low) / 2) ** 2 for low, _, high in ends) / whole)) if whole else 0.0


def weeks_of(
    day_of: Mapping[int, int],
    loads: Mapping[int, FloatArray],
    wrist_alone: set[int],
    *,
    last: int,
    weeks: int,
) -> UsualWeeks:
    """Sum parts into runs of seven days, counted back from the last.

    Parameters
    ----------
    day_of : mapping of part to int
        Ordinal of its day.
    loads : mapping of part to array, shape (draws,)
        Its load with the sensor's doubt alone.
    wrist_alone : set of part
        Parts known from a tested sensor alone.
    last : int
        Ordinal of the last day.
    weeks : int
        How many weeks; parts outside are left out.
    """
    draws = len(next(iter(loads.values()))) if loads else 0
    whole, of_wrist = np.zeros((weeks, draws)), np.zeros((weeks, draws))
    # In order of time, so that the sums are the same to the bit whatever order the parts came in.
    for part in sorted(loads, key=lambda part: (day_of[part], loads[part].tobytes())):
        week = (last - day_of[part]) // 7
        if 0 <= week < weeks:
            whole[week] += loads[part]
            if part in wrist_alone:
                of_wrist[week] += loads[part]
    return UsualWeeks(whole, of_wrist)


def variance_left(weeks: UsualWeeks, further: Sequence[FloatArray]) -> float:
    """Share of the weeks' variance that one further pair is expected to leave, 0 to 1.

    Parameters
    ----------
    weeks : UsualWeeks
    further : sequence of array, shape (draws,)
        Log ratio that a further pair would show, its own chance included: one vector for each session that
        it may be like. Which it will be is not known, so one slope has to serve them all; that averages
        out the noise of their chances too.

    Returns
    -------
    float
        Over the sum of the weeks' variances. Exactly 1 where what is shared cannot be told from noise of
        the draws, where nothing is in doubt, and where nothing would be learned.
    """
    whole = float(np.var(weeks.loads, axis=1).sum()) if weeks.loads.size else 0.0
    if not len(further) or whole <= 0:
        return 1.0
    shown = np.asarray(further)
    shown = shown - shown.mean(axis=1, keepdims=True)
    variance = float(np.mean(shown**2))
    if variance <= 0:
        return 1.0
    apart = weeks.from_wrist - weeks.from_wrist.mean(axis=1, keepdims=True)
    covariance = apart @ shown.mean(axis=0) / shown.shape[1]
    explained = float(np.sum(covariance**2)) / variance / whole
    if explained < NOISE_WIDTHS**2 / shown.shape[1]:
        return 1.0
    return max(1 - explained, 0.0)


def expected_half_width(weeks: UsualWeeks, further: Sequence[FloatArray]) -> float:
    """Half-width of a usual week over its load that is expected after one further pair.

    Parameters
    ----------
    weeks : UsualWeeks
    further : sequence of array, shape (draws,)
        As for ``variance_left``.
    """
    return weeks.half_width * float(np.sqrt(variance_left(weeks, further)))


def half_width_when_worn(weeks: UsualWeeks, sessions: Sequence[tuple[int, FloatArray]]) -> float:
    """Half-width of a usual week over its load if one of its sessions is worn with a strap.

    The session then measures itself: its own doubt leaves that week, and that week alone.

    Parameters
    ----------
    weeks : UsualWeeks
    sessions : sequence of (int, array of shape (draws,))
        Row of the week of each session that it may be, and the session's load.

    Returns
    -------
    float
        Averaged over the sessions; the half-width as it is where there is none.
    """
    squares = np.zeros(2)
    for week, load in sessions:
        whole = weeks.loads[week]
        for place, doubt in enumerate((whole, whole - load)):
            low, _, high = interval(doubt)
            squares[place] += (high - low) ** 2
    return weeks.half_width * float(np.sqrt(squares[1] / squares[0])) if squares[0] > 0 else weeks.half_width
