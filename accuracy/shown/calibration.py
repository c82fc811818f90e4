"""What the page of a sensor on an activity says of how well pairs were foretold, and of what foretells."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import scipy
from scipy import special

from accuracy import charts
from accuracy.core.learning.priors import FAMILIES
from accuracy.core.learning.wrist_fit import NAMES, RATED
from accuracy.services.wording import counted
from accuracy.shown.learned import Cell

LEAST_PAIRS = 5
"""Pairs below which nothing is said of how often intervals held them (common practice, no source)."""

LEAST_WEIGHT = 0.05
"""Weight below which a candidate is not named (common practice, no source)."""

MOSTLY = 0.5
"""Weight from which a prediction rests mostly on one candidate."""

ODD = 0.05
"""Probability on either side beyond which a count is no chance (usual convention)."""

CANDIDATES = {
    "raw": "the reading as it stands",
    "constant": "an average ratio",
    "trace": "a correction second by second",
    "few features": "a few features of the trace",
    "all features": "all features of the trace",
    "few features and rating": "the trace's features and your rating",
}
"""What each candidate of the wrist's fit goes by."""


def calibration_section(cell: Cell) -> dict[str, Any]:
    """How well a fit foretold its pairs, in sentences and drawn; empty where nothing was learned.

    Parameters
    ----------
    cell : Cell

    Returns
    -------
    dict
        ``foretold``: sentences on all pairs and on those of the cell; ``rests_on``: on what the prediction
        rests on and how wide it is made; ``promises``: chart, None where there are too few pairs.
    """
    kept = cell.profile.fit.calibration if cell.profile else {}
    if not kept:
        return {}
    pairs = int(kept["pairs"])
    foretold = [of_all(pairs, kept["covered"])]
    rests_on = [weights_in_words(cell, kept["weights"])]
    promises = None
    if pairs >= LEAST_PAIRS:
        scores = np.concatenate([np.asarray(own, dtype=float) for own in kept["by_cell"].values()])
        promises = charts.calibration({"all pairs": special.ndtr(scores)}, by_chance_of=pairs)
        foretold.append(of_cell(cell))
        own = cell.profile.pair_count if cell.profile else 0
        rests_on.append(width_in_words(kept["width"], own))
    return {"foretold": foretold, "rests_on": rests_on, "promises": promises}


def of_all(pairs: int, covered: Mapping[str, float]) -> str:
    """Sentence on how many pairs the intervals of each width held.

    Parameters
    ----------
    pairs : int
    covered : mapping of per cent to float
        Share (0 to 1) of the pairs inside.
    """
    if pairs < LEAST_PAIRS:
        had = counted(pairs, "pair") if pairs else "No pair"
        return f"{had} so far: too few to judge how well the log foretells."
    held = {wanted: f"{round(share * pairs)} of them ({share:.0%})" for wanted, share in covered.items()}
    return (
        f"Each of the {pairs} pairs, of all sensors and activities, was foretold from the other workouts: "
        f"the 50% intervals held {held['50']}, the 80% intervals {held['80']}, the 95% intervals "
        f"{held['95']}. {judgement(pairs, covered['80'])}"
    )


def judgement(pairs: int, share: float) -> str:
    """Sentence on whether 80% intervals hold as often as they say, as far as so many pairs can tell."""
    held = round(share * pairs)
    expected = scipy.stats.binom(pairs, 0.8)
    if expected.cdf(held) < ODD:
        return "Those of 80% hold less often than they should: they are too narrow."
    if expected.sf(held - 1) < ODD:
        return "Those of 80% hold more often than they need to: they are wider than they could be."
    return "Those of 80% hold as often as they should, as far as so many pairs can tell."


def of_cell(cell: Cell) -> str:
    """Sentence on the cell's own pairs."""
    where = f"{cell.sensor.name} on {cell.activity.name}"
    if cell.held is None:
        return f"{where} has no pair of its own yet."
    held, pairs = cell.held
    if pairs < LEAST_PAIRS:
        return f"{where} has {counted(pairs, 'pair')} of its own: too few to judge."
    return f"Of the {pairs} pairs of {where}, the 80% intervals held {held}."


def weights_in_words(cell: Cell, weights: Sequence[Sequence[float]]) -> str:
    """Sentence on what the prediction of a family rests on, heaviest first.

    Parameters
    ----------
    cell : Cell
    weights : sequence, shape (families, candidates)
    """
    weight = np.array(weights[FAMILIES.index(cell.activity.family)])
    order = [place for place in np.argsort(-weight, kind="stable") if weight[place] >= LEAST_WEIGHT]
    named = [f"{CANDIDATES[NAMES[place]]} ({weight[place]:.0%})" for place in order]
    mostly = "mostly on " if weight[order[0]] >= MOSTLY else "on "
    others = 1 - weight[order].sum()
    told = mostly + ", some on ".join(named)
    if round(100 * others) > 0:
        told += f", the rest ({others:.0%}) on others"
    unrated = " A session without a rating goes by the trace's features alone." if RATED in order else ""
    family = cell.activity.get_family_display()
    return f"The prediction for this family of work ({family}) rests {told}.{unrated}"


def width_in_words(width: float, own_pairs: int) -> str:
    """Sentence on the factor by which intervals are widened; without own pairs they are never narrowed."""
    if width < 1 and not own_pairs:
        return (
            "Without a pair of its own, its intervals are as wide as the predictions by themselves make them."
        )
    change = round(100 * (width - 1))
    if change == 0:
        return "The intervals are as wide as the predictions by themselves make them."
    wider = "wider" if change > 0 else "narrower"
    return f"The pairs made the intervals {abs(change)}% {wider} than the predictions by themselves would be."
