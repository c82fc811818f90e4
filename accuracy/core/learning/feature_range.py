"""Where the features of an activity's pairs lie, and how far a session lies outside."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np

from trainlog.trace import FloatArray

OWN_PAIRS = 2.0
"""Pairs of its parent that a group's own mean is weighed against (common practice, no source)."""

REACH = 1.0
"""Usual departures beyond the pairs' own range within which a feature still counts in full (common
practice, no source)."""


@dataclass(frozen=True, eq=False)
class FeatureRange:
    """Middle and reach of the features of a group of pairs.

    Attributes
    ----------
    middle : array, shape (features,)
        Mean, drawn toward the parent's where there are few pairs; NaN where no pair knows the feature.
    reach : array, shape (features,)
        Largest departure from it among the pairs, and ``REACH``.
    """

    middle: FloatArray
    reach: FloatArray

    def departures(self, features: FloatArray) -> FloatArray:
        """Departures from the middle, held within reach, shape (features,); 0 where unknown."""
        return np.clip(np.nan_to_num(features - self.middle), -self.reach, self.reach)

    def excess(self, features: FloatArray) -> FloatArray:
        """Departures beyond reach, in usual departures, shape (features,); 0 inside or unknown."""
        return np.maximum(np.abs(np.nan_to_num(features - self.middle)) - self.reach, 0.0)


Path = tuple[str, ...]
"""Groups that a pair is in, from the widest to its own."""


def ranges_of(pairs: Iterable[tuple[Path, FloatArray]]) -> dict[str, FeatureRange]:
    """Ranges of every group that holds a pair.

    Parameters
    ----------
    pairs : iterable of (path, features)
        Features of shape (features,), NaN where unknown.

    Returns
    -------
    dict of group to FeatureRange
    """
    members: dict[str, list[FloatArray]] = {}
    parents: dict[str, str | None] = {}
    depth: dict[str, int] = {}
    for path, features in pairs:
        for place, group in enumerate(path):
            members.setdefault(group, []).append(features)
            parents[group] = path[place - 1] if place else None
            depth[group] = place
    found: dict[str, FeatureRange] = {}
    for group in sorted(members, key=lambda name: (depth[name], name)):
        values = np.array(members[group])
        known = np.isfinite(values)
        total, count = np.where(known, values, 0.0).sum(axis=0), known.sum(axis=0)
        parent = parents[group]
        if parent is not None:
            expected = found[parent].middle
            total = total + OWN_PAIRS * np.nan_to_num(expected)
            count = count + OWN_PAIRS * np.isfinite(expected)
        # What no pair knows has no middle, and no session departs from it.
        middle = np.where(count > 0, total / np.maximum(count, 1), np.nan)
        apart = np.where(known, np.abs(values - middle), 0.0)
        found[group] = FeatureRange(middle, apart.max(axis=0) + REACH)
    return found


def range_along(path: Path, ranges: Mapping[str, FeatureRange]) -> FeatureRange | None:
    """Range of the narrowest group along a path that some pair is in; None if none is."""
    return next((ranges[group] for group in reversed(path) if group in ranges), None)
