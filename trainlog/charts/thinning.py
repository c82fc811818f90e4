"""Fewer points for a drawn trace than it has seconds, and strokes that tell drawn lines apart."""

from __future__ import annotations

import numpy as np

from trainlog.trace import FloatArray

MOST_POINTS = 1800
"""Points of a drawn trace; a longer one is drawn in means of several seconds."""

DASHES = ([1, 0], [6, 3], [2, 2], [8, 2, 2, 2])
"""Strokes that tell apart lines of one role, also in grey print."""


def means_of(values: FloatArray, step: int) -> FloatArray:
    """Mean of every ``step`` seconds; NaN only where none of them is known."""
    padded = np.full(-(-len(values) // step) * step, np.nan)
    padded[: len(values)] = values
    blocks = padded.reshape(-1, step)
    known = np.isfinite(blocks)
    count = known.sum(axis=1)
    sums = np.where(known, blocks, 0.0).sum(axis=1)
    return np.where(count > 0, sums / np.maximum(count, 1), np.nan)


def seconds_a_point(seconds: int, most: int = MOST_POINTS) -> int:
    """Seconds that one drawn point stands for, so that there are at most ``most`` points."""
    return max(1, -(-seconds // most))
