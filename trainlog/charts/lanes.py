"""Flagged stretches of traces: shaded over the whole chart, and named in lanes on top of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from trainlog.charts.spec import Encoding, layer, number, rows, told

LANE_HEIGHT = 28
"""Pixels of each lane."""

LETTER = 6.4
"""Pixels that a letter of a lane's words takes, about."""


@dataclass(frozen=True)
class FlaggedStretch:
    """A flagged stretch in seconds since the chart begins.

    Role is that of its trace; name tells the trace from others, None where there is no other.
    """

    role: str
    begins: float
    ends: float
    meaning: str
    name: str | None = ""

    @property
    def lane(self) -> tuple[str, str]:
        """What it shares with others of its lane: whose trace, and why."""
        return "" if self.name is None else self.name or self.role, self.meaning


def lanes_of(flagged: Sequence[FlaggedStretch]) -> list[tuple[str, str]]:
    """Each trace and reason gets a lane, in the order of first appearance."""
    return list(dict.fromkeys(one.lane for one in flagged))


def draw_lanes(
    flagged: Sequence[FlaggedStretch],
    datasets: dict[str, list[dict[str, Any]]],
    *,
    below: int = 0,
    seconds: int | None = None,
) -> list[Encoding]:
    """Shade over the whole height, and in each lane its words, and bars in the ink of its trace.

    Parameters
    ----------
    flagged : sequence of FlaggedStretch
    datasets : dict
        Of the chart; the rows of the lanes are added.
    below : int
        Pixels that something else takes on top.
    seconds : int, optional
        Length of a chart that does not zoom: a lane's words then begin over its first stretch, or as far
        left of it as they need to end in sight. Otherwise they stand at the left.
    """
    if not flagged:
        return []
    lanes = lanes_of(flagged)
    across = {"x": number("begins"), "x2": {"field": "ends"}}
    # Pixels from the top: no scale.
    up = {"y": number("top", scale=None, axis=None), "y2": {"field": "bottom"}}
    tooltip = {
        "tooltip": [
            told("meaning", "flagged", kind="nominal"),
            told("begins", "from minute", ".1f"),
            told("ends", "to minute", ".1f"),
        ]
    }
    drawn = []
    for role in dict.fromkeys(one.role for one in flagged):
        own = [one for one in flagged if one.role == role]
        tops = np.array([below + lanes.index(one.lane) * LANE_HEIGHT + 17 for one in own])
        datasets[f"flagged-{role}"] = rows(
            begins=np.round([one.begins / 60 for one in own], 3),
            ends=np.round([one.ends / 60 for one in own], 3),
            meaning=[one.meaning for one in own],
            top=tops,
            bottom=tops + 6,
        )
        drawn += [
            layer(f"flagged-{role}", "rect", "flagged", across, clip=True),
            layer(f"flagged-{role}", "rect", role, across | up | tooltip, clip=True),
            # A stretch of a second stays visible where a pixel is many seconds.
            layer(f"flagged-{role}", "rule", role, {"x": number("begins")} | up, clip=True, strokeWidth=2),
        ]
    named = [f"{name}: {meaning}" if name else meaning for name, meaning in lanes]
    first = [min(one.begins for one in flagged if one.lane == lane) for lane in lanes]
    datasets["lanes"] = rows(
        words=named,
        begins=np.round([begins / seconds if seconds else 0.0 for begins in first], 4),
        wide=[LETTER * len(words) for words in named],
        top=[below + place * LANE_HEIGHT + 2 for place in range(len(lanes))],
    )
    beside = {"calculate": "max(min(datum.begins * width, width - datum.wide), 4)", "as": "at"}
    across_pixels = number("at", scale=None, axis=None)
    words = {"x": across_pixels, "y": up["y"], "text": {"field": "words", "type": "nominal"}}
    label = layer(
        "lanes", "text", "part-name", words, align="left", baseline="top", limit={"expr": "width - 8"}
    )
    return [*drawn, {**label, "transform": [beside]}]
