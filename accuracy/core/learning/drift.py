"""Whether a sensor's error changed on some day without a new firmware being noted.

The standardised left-out scores of a sensor's pairs in a family, in order of time, are parted in every way
that leaves a few on each side; the parting whose means differ most counts, if they differ by more than
chance would make them.

References
----------
Hawkins DM (1977). Testing a sequence of observations for a shift in location. J Am Stat Assoc 72:180-186.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from trainlog.trace import FloatArray

LEAST_BEFORE, LEAST_AFTER = 3, 2
"""Pairs on either side of a change (common practice, no source)."""

THRESHOLD = 3.7
"""Difference of the means in standard errors above which it is no chance: 1% of unchanged series of 8 to 100
normal scores exceed it (our simulation)."""

PRIOR_SCORES = 4.0
"""Scores of standard deviation 1 that the scores' own spread is weighed against (common practice, no
source)."""

LARGEST_SCORE = 3.0
"""Scores beyond it count as it, so that one odd session is no change."""


@dataclass(frozen=True)
class DatedScore:
    """A pair's standardised left-out score.

    Attributes
    ----------
    group : str
        Instrument in a family.
    day : int
        Ordinal of the pair's day.
    score : float
        Positive where the wrist read lower than foretold.
    """

    group: str
    day: int
    score: float


@dataclass(frozen=True)
class Drift:
    """A change of a sensor's error in a family.

    Attributes
    ----------
    from_day : int
        Ordinal of the day of the first pair after it.
    change : float
        Mean score after it less the mean before.
    after : int
        Pairs since.
    """

    from_day: int
    change: float
    after: int


def find_drifts(scores: Iterable[DatedScore]) -> dict[str, Drift]:
    """Look for one change in each group, whose scores the caller keeps to one firmware.

    Parameters
    ----------
    scores : iterable of DatedScore
        In any order.

    Returns
    -------
    dict of group to Drift
        Only groups with a change.
    """
    groups: dict[str, list[DatedScore]] = {}
    for one in sorted(scores, key=lambda one: (one.group, one.day, one.score)):
        groups.setdefault(one.group, []).append(one)
    found = {group: _change(members) for group, members in groups.items()}
    return {group: drift for group, drift in found.items() if drift is not None}


def _change(members: list[DatedScore]) -> Drift | None:
    scores = np.clip([one.score for one in members], -LARGEST_SCORE, LARGEST_SCORE)
    days = [one.day for one in members]
    places = [
        place for place in range(LEAST_BEFORE, len(scores) - LEAST_AFTER + 1) if days[place] > days[place - 1]
    ]
    if not places:
        return None
    sizes = [_standard_errors_apart(scores[:place], scores[place:]) for place in places]
    best = int(np.argmax(sizes))
    if sizes[best] < THRESHOLD:
        return None
    place = places[best]
    change = float(scores[place:].mean() - scores[:place].mean())
    return Drift(days[place], change, len(scores) - place)


def _standard_errors_apart(before: FloatArray, after: FloatArray) -> float:
    """Difference of two means over its standard error, the spread within drawn toward 1."""
    squares = float(((before - before.mean()) ** 2).sum() + ((after - after.mean()) ** 2).sum())
    freedom = len(before) + len(after) - 2
    spread = np.sqrt((PRIOR_SCORES + squares) / (PRIOR_SCORES + freedom))
    return float(abs(after.mean() - before.mean()) / (spread * np.sqrt(1 / len(before) + 1 / len(after))))
