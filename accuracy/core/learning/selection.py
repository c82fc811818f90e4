"""Whether the sessions worn with a strap are like the ones without: what is learned holds for its like.

References
----------
Mann HB, Whitney DR (1947). Ann Math Stat 18:50-60. Holm S (1979). Scand J Stat 6:65-70.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy

from accuracy.core.learning.features import FEATURES, SCALES
from trainlog.trace import FloatArray

COMPARED = ("load", "length", "peaks", "spread")
"""Features that tell what kind of session it was rather than how the wrist behaved."""

LEAST_SESSIONS = 4
"""Sessions on either side below which nothing is compared (common practice, no source)."""

LEVEL = 0.05
"""Family-wise error rate over the compared features."""


@dataclass(frozen=True)
class Difference:
    """A feature in which paired sessions differ from wrist-only ones.

    Attributes
    ----------
    feature : str
    paired, alone : float
        Medians in the feature's own unit.
    p_value : float
        Of a rank-sum test, adjusted for the number of features (Holm).
    """

    feature: str
    paired: float
    alone: float
    p_value: float


def differences(paired: FloatArray, alone: FloatArray) -> list[Difference]:
    """Features in which two sets of sessions differ.

    Parameters
    ----------
    paired, alone : array, shape (sessions, features)
        Features of sessions with a strap, and with the wrist alone.

    Returns
    -------
    list of Difference
        Surest first; empty where either set is small.
    """
    if min(len(paired), len(alone)) < LEAST_SESSIONS:
        return []
    found = []
    for name in COMPARED:
        place = FEATURES.index(name)
        test = scipy.stats.mannwhitneyu(paired[:, place], alone[:, place])
        with_strap, without = (float(np.median(one[:, place])) * SCALES[name] for one in (paired, alone))
        found.append(Difference(name, with_strap, without, float(test.pvalue)))
    found.sort(key=lambda one: one.p_value)
    kept, highest = [], 0.0
    for place, one in enumerate(found):
        highest = max(highest, min(one.p_value * (len(found) - place), 1.0))
        if highest > LEVEL:
            break
        kept.append(Difference(one.feature, one.paired, one.alone, highest))
    return kept
