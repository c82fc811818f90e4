"""Both traces of a pair on one time axis, with the stretches that were flagged."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from trainlog.charts.lanes import LANE_HEIGHT, FlaggedStretch, draw_lanes, lanes_of
from trainlog.charts.spec import (
    NEAR,
    finished,
    layer,
    minutes_of_part,
    number,
    pointed_at,
    rate_below_lanes,
    rows,
    told,
)
from trainlog.charts.thinning import MOST_POINTS, means_of, seconds_a_point
from trainlog.trace import FloatArray

TRACE_HEIGHT = 280
"""Pixels of the traces, below the lanes of flagged stretches."""


def overlay(
    reference: FloatArray,
    tested: FloatArray,
    flagged: Sequence[FlaggedStretch],
    *,
    most_points: int = MOST_POINTS,
    with_pointer: bool = True,
) -> dict[str, Any]:
    """Reference and tested heart rate against time; flagged stretches are shaded, and named in lanes on top.

    Parameters
    ----------
    reference, tested : array, shape (seconds,)
        Aligned heart rate in bpm at 1 Hz, NaN outside the common seconds; at least one known.
    flagged : sequence of FlaggedStretch
        Each trace and reason gets a lane, in the order of first appearance.
    most_points : int
        Drawn of each trace; longer ones are drawn in means of several seconds.
    with_pointer : bool
        Whether the chart answers a pointer; on paper it need not.

    Returns
    -------
    dict
        Vega-Lite spec with fields ``minute``, ``reference``, ``tested`` and, with a pointer, ``difference``.
    """
    step = seconds_a_point(len(reference), most_points)
    x, y = means_of(reference, step), means_of(tested, step)
    height = TRACE_HEIGHT + LANE_HEIGHT * len(lanes_of(flagged))
    rate = rate_below_lanes(np.concatenate([x, y]), height, TRACE_HEIGHT)
    time = minutes_of_part(len(reference))
    pointer = pointed_at(
        time,
        [
            told("minute", "minute", ".1f"),
            told("reference", "reference, bpm", ".0f"),
            told("tested", "tested, bpm", ".0f"),
            told("difference", "difference, bpm", "+.0f"),
        ],
    )
    difference = {"difference": (y - x).round(1)} if with_pointer else {}
    datasets = {
        "traces": rows(
            minute=(np.arange(len(x)) * step / 60).round(3),
            reference=x.round(1),
            tested=y.round(1),
            **difference,
        )
    }
    layers = [
        *draw_lanes(flagged, datasets, seconds=len(reference)),
        layer("traces", "line", "reference", {"x": time, "y": number("reference", **rate)}, clip=True),
        layer("traces", "line", "tested", {"x": time, "y": number("tested", **rate)}, clip=True),
        *([layer("traces", "rule", "pointer", pointer, params=[NEAR])] if with_pointer else []),
    ]
    words = (
        "Heart rate in bpm against minutes since the part began: reference, and tested sensor moved onto its "
        f"clock, over their common seconds. Flagged stretches, shaded: {len(flagged)}."
    )
    return finished(layers, datasets, words, height)
