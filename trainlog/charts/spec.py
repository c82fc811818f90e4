"""Vega-Lite specs as plain dictionaries: a page with three charts has no time for a builder's checks.

Altair takes 50 to 130 ms to build and check one of these charts, a dictionary takes 2 ms; the tests check
every spec against Altair's copy of the schema instead.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from trainlog.trace import FloatArray

Encoding = dict[str, Any]
SCHEMA = "https://vega.github.io/schema/vega-lite/v6.json"


def rows(**columns: Sequence[Any] | Any) -> list[dict[str, Any]]:
    """Rows of equally long columns; arrays give Python's numbers, and NaN becomes None."""
    lists = [values.tolist() if hasattr(values, "tolist") else list(values) for values in columns.values()]
    names = tuple(columns)
    return [
        {
            name: None if isinstance(value, float) and not math.isfinite(value) else value
            for name, value in zip(names, row, strict=True)
        }
        for row in zip(*lists, strict=True)
    ]


def number(field: str, **more: Any) -> Encoding:
    """Channel of a quantity."""
    return {"field": field, "type": "quantitative", **more}


def named_rows(field: str, names: Sequence[str]) -> Encoding:
    """Channel of a row for each name, from top to bottom in this order."""
    return {
        "field": field,
        "type": "nominal",
        "title": None,
        "sort": None,
        "scale": {"domain": list(names)},
        "axis": {"labelLimit": 260, "ticks": False, "domain": False},
    }


def told(field: str, title: str, form: str | None = None, *, kind: str = "quantitative") -> Encoding:
    """Line of a tooltip."""
    return {"field": field, "type": kind, "title": title, **({"format": form} if form else {})}


def layer(
    data: str, mark: str, style: str, encoding: Encoding, *, params: Any = None, **look: Any
) -> Encoding:
    """One layer: the rows of a data set as marks of a style."""
    made = {"data": {"name": data}, "mark": {"type": mark, "style": style, **look}, "encoding": encoding}
    return made | ({"params": params} if params else {})


NEAR: Encoding = {
    "name": "near",
    "select": {"type": "point", "nearest": True, "on": "pointermove", "encodings": ["x"]},
}
"""Parameter: the row nearest to the pointer along the horizontal axis."""


def pointed_at(across: Encoding, tooltip: Sequence[Encoding]) -> Encoding:
    """Encoding of a rule that shows where ``NEAR`` is, and tells the row's figures."""
    shown = {"condition": {"param": "near", "empty": False, "value": 0.5}, "value": 0}
    return {"x": across, "opacity": shown, "tooltip": list(tooltip)}


def minutes_of_part(seconds: int) -> Encoding:
    """Channel of the minutes since a part of so many seconds began."""
    return number(
        "minute",
        title="minutes since the part began",
        scale={"nice": False, "zero": False, "domain": [0, round(seconds / 60, 3)]},
        axis={"tickCount": 10},
    )


def finished(
    layers: Sequence[Encoding], datasets: Mapping[str, list[dict[str, Any]]], description: str, height: int
) -> dict[str, Any]:
    """Spec as wide as its place, without a look of its own, saying in words what it shows."""
    return {
        "$schema": SCHEMA,
        "width": "container",
        "height": height,
        "description": description,
        "layer": list(layers),
        "datasets": dict(datasets),
    }


def ticks(low: float, high: float, most: int = 7) -> list[int]:
    """Round values from ``low`` to ``high``, at most ``most`` of them."""
    steps = (1, 2, 5, 10, 20, 50, 100, 200)
    step = next((step for step in steps if (high - low) / step <= most - 1), 500)
    return list(range(math.ceil(low / step) * step, math.floor(high) + 1, step))


def rate_below_lanes(known: FloatArray, height: int, room: int) -> Encoding:
    """Axis of the heart rate, reaching so far up that what lies on top stays clear of the traces.

    Parameters
    ----------
    known : array
        All rates drawn, bpm; at least one finite.
    height, room : int
        Pixels of the whole chart, and of the traces in it.
    """
    low, high = float(np.nanmin(known)) - 3, float(np.nanmax(known)) + 3
    top = low + (high - low) * height / room
    return {
        "title": "heart rate, bpm",
        "scale": {"domain": [round(low, 1), round(top, 1)], "nice": False, "zero": False},
        "axis": {"values": ticks(low, high)},
    }
