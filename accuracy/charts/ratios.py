"""Tested load against reference load, pair by pair over time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from accuracy.words import difference
from trainlog.charts.spec import Encoding, finished, layer, number, told

HEIGHT = 260
WIDE_TICKS = (0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0, 1.1, 1.2, 1.35, 1.5, 1.75, 2.0, 2.5)
NARROW_TICKS = (0.8, 0.85, 0.9, 0.95, 1.0, 1.05, 1.1, 1.15, 1.2)
"""Tested load over reference load at which a wide or a narrow axis may be labelled."""

AS_DIFFERENCE = "datum.value == 1 ? 'equal' : format(datum.value - 1, '+.0%')"
"""Label of a ratio: how far it is from equality."""


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


def ratio_axis(field: str, reach: Sequence[float]) -> Encoding:
    """Upright channel of ratios of loads, on a log scale that holds equality and all of ``reach``."""
    known = [*reach, 0.95, 1.05]
    lowest, highest = min(known) / 1.03, max(known) * 1.03
    choice = NARROW_TICKS if highest / lowest < 1.45 else WIDE_TICKS
    ticks = [tick for tick in choice if lowest <= tick <= highest]
    return number(
        field,
        title="tested load against reference",
        scale={"type": "log", "domain": [round(lowest, 4), round(highest, 4)], "nice": False},
        axis={"values": ticks, "labelExpr": AS_DIFFERENCE},
    )


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
    drawn = [
        {
            "day": point.day.isoformat(),
            "ratio": round(point.tested_over_reference, 4),
            "difference": difference(point.tested_over_reference),
            "use": "learned from" if point.usable else "set aside",
        }
        for point in points
    ]
    reach = [point.tested_over_reference for point in points] + ([band.low, band.high] if band else [])
    height = ratio_axis("ratio", reach)
    datasets: dict[str, list[dict[str, Any]]] = {"equal": [{"ratio": 1.0}]}
    layers = []
    if band:
        datasets["expected"] = [
            {"low": round(band.low, 4), "ratio": round(band.median, 4), "high": round(band.high, 4)}
        ]
        ends = {"y": number("low"), "y2": {"field": "high"}}
        layers += [
            layer("expected", "rect", "corrected-band", ends),
            layer("expected", "rule", "corrected", {"y": height}, strokeWidth=1.5),
        ]
    layers.append(layer("equal", "rule", "zero", {"y": height}))
    time = {
        "field": "day",
        "type": "temporal",
        "title": None,
        "scale": {"padding": 24},
        "axis": {"format": "%-d %b", "tickCount": 6, "labelOverlap": True, "labelFlush": True},
    }
    tooltip = [
        told("day", "day", "%-d %b %Y", kind="temporal"),
        told("difference", "tested load against reference", kind="nominal"),
        told("use", "pair", kind="nominal"),
    ]
    for use, style, shape in (("learned from", "tested", "circle"), ("set aside", "unknown", "cross")):
        own = [row for row in drawn if row["use"] == use]
        if own:
            datasets[use] = own
            encoding = {"x": time, "y": height, "tooltip": tooltip}
            look = {"shape": shape, "filled": shape == "circle", "size": 55, "opacity": 1}
            layers.append(layer(use, "point", style, encoding, **look))
    words = f"Tested over reference load of {len(points)} pairs by date, on a log scale."
    return finished(layers, datasets, words, HEIGHT)
