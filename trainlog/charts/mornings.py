"""One morning figure over the days, as a declarative spec in plain dictionaries (two stand on a page)."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any

import numpy as np

from trainlog.load.hrv import UsualBand
from trainlog.trace import FloatArray

HEIGHT = 180
SCHEMA = "https://vega.github.io/schema/vega-lite/v6.json"


def mornings(
    title: str, days: Sequence[date], values: FloatArray, weekly: FloatArray, band: UsualBand | None
) -> dict[str, Any]:
    """Each morning as a dot, the mean of seven days as a line, today's usual band behind them.

    Parameters
    ----------
    title : str
        Name and unit of the figure.
    days : sequence of date
        Every day, oldest first.
    values, weekly : array, shape (days,)
        NaN where not known; at least one value known.
    band : UsualBand or None
        Drawn over all days, None where nothing is usual yet.

    Returns
    -------
    dict
        Vega-Lite spec with fields ``day``, ``told``, ``value`` and ``weekly``.
    """
    rows = [
        {
            "day": day.isoformat(),
            "told": f"{day:%a} {day.day} {day:%b}",
            "value": _known(value),
            "weekly": _known(mean),
        }
        for day, value, mean in zip(days, values, weekly, strict=True)
    ]
    # Days are read as UTC and shown as UTC: in any browser's zone they stay the days they are.
    across = {
        "field": "day",
        "type": "temporal",
        "title": None,
        "scale": {"type": "utc", "domain": [days[0].isoformat(), days[-1].isoformat()]},
        "axis": {"format": "%-d %b", "tickCount": 6, "labelOverlap": True},
    }
    up = {"type": "quantitative", "title": title, "scale": {"zero": False}, "axis": {"tickCount": 5}}
    line = {"type": "line", "style": "weekly"}
    dot = {"type": "point", "style": "morning"}
    tooltip = [
        {"field": "told", "type": "nominal", "title": "morning"},
        {"field": "value", "type": "quantitative", "title": title, "format": ".2~f"},
    ]
    layers: list[dict[str, Any]] = [
        {
            "data": {"name": "mornings"},
            "mark": line,
            "encoding": {"x": across, "y": {"field": "weekly", **up}},
        },
        {
            "data": {"name": "mornings"},
            "transform": [{"filter": {"field": "value", "valid": True}}],
            "mark": dot,
            "encoding": {"x": across, "y": {"field": "value", **up}, "tooltip": tooltip},
        },
    ]
    datasets: dict[str, list[dict[str, Any]]] = {"mornings": rows}
    if band is not None:
        ends = {"y": {"field": "low", **up}, "y2": {"field": "high"}}
        layers.insert(
            0, {"data": {"name": "usual"}, "mark": {"type": "rect", "style": "usual-band"}, "encoding": ends}
        )
        datasets["usual"] = [{"low": round(band.low, 3), "high": round(band.high, 3)}]
    usual = f"; usual band from {band.low:.2f} to {band.high:.2f}" if band else ""
    return {
        "$schema": SCHEMA,
        "width": "container",
        "height": HEIGHT,
        "description": f"{title}, morning by morning, with the mean of seven days{usual}.",
        "layer": layers,
        "datasets": datasets,
    }


def _known(value: float) -> float | None:
    return round(float(value), 3) if np.isfinite(value) else None
