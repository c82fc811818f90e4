"""Both traces of a pair on one time axis, with the stretches that were flagged."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from trainlog.charts.spec import (
    NEAR,
    Encoding,
    finished,
    layer,
    minutes_of_part,
    number,
    pointed_at,
    rows,
    ticks,
    told,
)
from trainlog.charts.thinning import MOST_POINTS, means_of, seconds_a_point
from trainlog.trace import FloatArray

TRACE_HEIGHT, LANE_HEIGHT = 280, 28
"""Pixels of the traces, and of each lane of flagged stretches above them."""

LETTER = 6.4
"""Pixels that a letter of a lane's words takes, about."""


@dataclass(frozen=True)
class FlaggedStretch:
    """A flagged stretch in seconds since the part began; role is that of its trace."""

    role: str
    begins: float
    ends: float
    meaning: str

    @property
    def lane(self) -> tuple[str, str]:
        """What it shares with others of its lane."""
        return self.role, self.meaning


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
    lanes = list(dict.fromkeys(one.lane for one in flagged))
    height = TRACE_HEIGHT + LANE_HEIGHT * len(lanes)
    rate = _rate(np.concatenate([x, y]), height)
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
        *(_lanes(flagged, lanes, len(reference), datasets) if lanes else []),
        layer("traces", "line", "reference", {"x": time, "y": number("reference", **rate)}, clip=True),
        layer("traces", "line", "tested", {"x": time, "y": number("tested", **rate)}, clip=True),
        *([layer("traces", "rule", "pointer", pointer, params=[NEAR])] if with_pointer else []),
    ]
    words = (
        "Heart rate in bpm against minutes since the part began: reference, and tested sensor moved onto its "
        f"clock, over their common seconds. Flagged stretches, shaded: {len(flagged)}."
    )
    return finished(layers, datasets, words, height)


def _rate(known: FloatArray, height: int) -> Encoding:
    """Axis of the heart rate, reaching so far up that the lanes stay clear of the traces."""
    low, high = float(np.nanmin(known)) - 3, float(np.nanmax(known)) + 3
    top = low + (high - low) * height / TRACE_HEIGHT
    return {
        "title": "heart rate, bpm",
        "scale": {"domain": [round(low, 1), round(top, 1)], "nice": False, "zero": False},
        "axis": {"values": ticks(low, high)},
    }


def _lanes(
    flagged: Sequence[FlaggedStretch],
    lanes: list[tuple[str, str]],
    seconds: int,
    datasets: dict[str, list[dict[str, Any]]],
) -> list[Encoding]:
    """Shade over the whole height, and in each lane its words, and bars in the ink of its trace."""
    across = {"x": number("begins"), "x2": {"field": "ends"}}
    # Pixels from the top: no scale.
    up = {"y": number("top", scale=None, axis=None), "y2": {"field": "bottom"}}
    drawn = []
    for role in dict.fromkeys(role for role, _ in lanes):
        own = [one for one in flagged if one.role == role]
        tops = np.array([lanes.index(one.lane) * LANE_HEIGHT + 17 for one in own])
        datasets[f"flagged-{role}"] = rows(
            begins=np.round([one.begins / 60 for one in own], 3),
            ends=np.round([one.ends / 60 for one in own], 3),
            meaning=[one.meaning for one in own],
            top=tops,
            bottom=tops + 6,
        )
        drawn += [
            layer(f"flagged-{role}", "rect", "flagged", across, clip=True),
            layer(f"flagged-{role}", "rect", role, across | up, clip=True),
            # A stretch of a second stays visible where a pixel is many seconds.
            layer(f"flagged-{role}", "rule", role, {"x": number("begins")} | up, clip=True, strokeWidth=2),
        ]
    first = [min(one.begins for one in flagged if one.lane == lane) for lane in lanes]
    named = [f"{role}: {meaning}" for role, meaning in lanes]
    datasets["lanes"] = rows(
        words=named,
        begins=np.round([begins / seconds for begins in first], 4),
        wide=[LETTER * len(words) for words in named],
        top=[place * LANE_HEIGHT + 2 for place in range(len(lanes))],
    )
    # Words begin over the first stretch of their lane, or as far left of it as they need to end in sight.
    beside = {"calculate": "max(min(datum.begins * width, width - datum.wide), 4)", "as": "at"}
    across_pixels = number("at", scale=None, axis=None)
    words = {"x": across_pixels, "y": up["y"], "text": {"field": "words", "type": "nominal"}}
    label = layer("lanes", "text", "part-name", words, align="left", baseline="top")
    return [*drawn, {**label, "transform": [beside]}]
