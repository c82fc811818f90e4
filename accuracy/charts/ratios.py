"""Charts of what was learned; marks carry style names, the page gives them their ink."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

import altair as alt
import pandas as pd

from accuracy.words import difference

HEIGHT = 260
WIDE_TICKS = (0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0, 1.1, 1.2, 1.35, 1.5, 1.75, 2.0, 2.5)
NARROW_TICKS = (0.8, 0.85, 0.9, 0.95, 1.0, 1.05, 1.1, 1.15, 1.2)
"""Tested load over reference load at which a wide or a narrow axis may be labelled."""


@dataclass(frozen=True)
class PairPoint:
    """One pair: its local day, tested over reference load, and whether it was learned from."""

    day: date
    tested_over_reference: float
    usable: bool


@dataclass(frozen=True)
class Band:
    """Tested over reference load that the profile expects of one further session: median and 80% interval."""

    low: float
    median: float
    high: float


def pair_ratios(points: Sequence[PairPoint], band: Band | None) -> dict[str, Any]:
    """Ratio of tested to reference load of each pair by date, on a log scale, with the profile's interval.

    Parameters
    ----------
    points : sequence of PairPoint
        At least one.
    band : Band or None
        None before anything was learned.

    Returns
    -------
    dict
        Vega-Lite spec.
    """
    frame = pd.DataFrame(
        {
            "day": [point.day.isoformat() for point in points],
            "ratio": [round(point.tested_over_reference, 4) for point in points],
            "difference": [difference(point.tested_over_reference) for point in points],
            "use": ["learned from" if point.usable else "set aside" for point in points],
        }
    )
    reach = [*frame["ratio"], 0.95, 1.05] + ([band.low, band.high] if band else [])
    lowest, highest = min(reach) / 1.03, max(reach) * 1.03
    choice = NARROW_TICKS if highest / lowest < 1.45 else WIDE_TICKS
    ticks = [tick for tick in choice if lowest <= tick <= highest]
    height = (
        alt.Y("ratio:Q")
        .title("tested load against reference")
        .scale(type="log", domain=[round(lowest, 4), round(highest, 4)], nice=False)
        .axis(values=ticks, labelExpr="datum.value == 1 ? 'equal' : format(datum.value - 1, '+.0%')")
    )
    layers: list[alt.Chart] = []
    if band:
        expected = pd.DataFrame({"low": [band.low], "ratio": [band.median], "high": [band.high]}).round(4)
        layers = [
            alt.Chart(expected).mark_rect(style="corrected-band").encode(y=alt.Y("low:Q"), y2="high:Q"),
            alt.Chart(expected).mark_rule(style="corrected", strokeWidth=1.5).encode(y=height),
        ]
    layers.append(alt.Chart(pd.DataFrame({"ratio": [1.0]})).mark_rule(style="zero").encode(y=height))
    told = [
        alt.Tooltip("day:T", title="day", format="%-d %b %Y"),
        alt.Tooltip("difference:N", title="tested load against reference"),
        alt.Tooltip("use:N", title="pair"),
    ]
    time = (
        alt.X("day:T")
        .title(None)
        .scale(padding=24)
        .axis(format="%-d %b", tickCount=6, labelOverlap=True, labelFlush=True)
    )
    for usable, style, shape in (("learned from", "tested", "circle"), ("set aside", "unknown", "cross")):
        if (frame["use"] == usable).any():
            layers.append(
                alt.Chart(frame[frame["use"] == usable])
                .mark_point(style=style, shape=shape, filled=shape == "circle", size=55, opacity=1)
                .encode(x=time, y=height, tooltip=told)
            )
    words = f"Tested over reference load of {len(points)} pairs by date, on a log scale."
    spec: dict[str, Any] = (
        alt.layer(*layers).properties(width="container", height=HEIGHT, description=words).to_dict()
    )
    spec.pop("config", None)
    return spec
