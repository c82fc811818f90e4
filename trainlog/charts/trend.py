"""The trend over days as declarative specs in plain dictionaries: loads with averages, and two responses."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import date, timedelta
from typing import Any

from trainlog.load.trend_figures import WEEK_DAYS
from trainlog.trace import FloatArray

HEIGHT = 300
SMALL_HEIGHT = 180
SCHEMA = "https://vega.github.io/schema/vega-lite/v6.json"
ENDS = ("low", "median", "high")

DAY = timedelta(days=1)


def loads(
    measure: str,
    days: Sequence[date],
    bars: dict[str, FloatArray],
    lines: dict[str, FloatArray],
    *,
    over: int,
) -> dict[str, Any]:
    """Bars of load with their intervals, acute and chronic load as lines in their bands.

    Parameters
    ----------
    measure : str
        Measure of load, in words.
    days : sequence of date
        First day of each bar.
    bars : dict of array, shape (days, 3)
        "load": low, median and high of the load a day of each bar, and "total" of the whole bar.
    lines : dict of array, shape (days, 3)
        "acute" and "chronic" at the end of each bar.
    over : int
        Days that a bar stands for: 1 or 7.

    Returns
    -------
    dict
        Vega-Lite spec. Rows have ``day``, ``ends``, ``told`` and low, median and high of each figure.
    """
    rows = _rows(days, bars | lines, over)
    up = {"type": "quantitative", "title": "load a day", "axis": {"tickCount": 5}}
    across = _across(days, over)
    bar = {
        "mark": {"type": "bar", "style": "day-load"},
        "encoding": {
            "x": across,
            "x2": {"field": "ends"},
            "y": {"field": "load_median", **up, "stack": None},
            "y2": {"datum": 0},
        },
    }
    interval = {
        "mark": {"type": "rule", "style": "day-interval"},
        "encoding": {
            "x": {**across, "field": "middle"},
            "y": {"field": "load_low", **up},
            "y2": {"field": "load_high"},
        },
    }
    what = "week" if over == WEEK_DAYS else "day"
    of_bar = "total" if over == WEEK_DAYS else "load"
    told = _told(what, {f"load of the {what}": of_bar, "acute load": "acute", "chronic load": "chronic"})
    described = (
        f"Load in {measure}, arbitrary units, {what} by {what} from {days[0]:%-d %B %Y} to "
        f"{_last(days, over):%-d %B %Y}, with acute and chronic load as averages a day and their 80% "
        f"intervals. At the end acute load is {_in_words(lines['acute'][-1])} and chronic load "
        f"{_in_words(lines['chronic'][-1])}."
    )
    layers = [bar, interval]
    layers += [*_line("chronic", "slow", across, up, over), *_line("acute", "quick", across, up, over)]
    return _spec(rows, [*layers, _pointer(across, told)], described, HEIGHT)


def responses(days: Sequence[date], lines: dict[str, FloatArray], *, over: int) -> dict[str, Any]:
    """The slow and the fast response, the fast one times its weight, so their gap is their difference.

    Parameters
    ----------
    days : sequence of date
        As in ``loads``.
    lines : dict of array, shape (days, 3)
        "slow", "fast" (with its weight) and "net_response" at the end of each bar.
    over : int
        As in ``loads``.

    Returns
    -------
    dict
        Vega-Lite spec.
    """
    up = {"type": "quantitative", "title": "response", "axis": {"tickCount": 4}}
    across = _across(days, over)
    told = _told(
        "week" if over == WEEK_DAYS else "day",
        {"slow response": "slow", "fast response, weighted": "fast", "difference": "net_response"},
    )
    described = (
        f"Slow and fast response to load from {days[0]:%-d %B %Y} to {_last(days, over):%-d %B %Y}, the "
        f"fast one times its weight. At the end slow {_in_words(lines['slow'][-1])}, fast "
        f"{_in_words(lines['fast'][-1])}, difference {_in_words(lines['net_response'][-1])}."
    )
    layers = [*_line("slow", "slow", across, up, over), *_line("fast", "quick", across, up, over)]
    return _spec(_rows(days, lines, over), [*layers, _pointer(across, told)], described, SMALL_HEIGHT)


def _rows(days: Sequence[date], figures: dict[str, FloatArray], over: int) -> list[dict[str, Any]]:
    rounded = {
        f"{name}_{end}": [
            None if math.isnan(value) else value for value in values[:, place].round(1).tolist()
        ]
        for name, values in figures.items()
        for place, end in enumerate(ENDS)
    }
    return [
        {
            "day": day.isoformat(),
            # Hours are shares of the bar, and nothing that happened at a time of day.
            "ends": f"{day + (over - 1) * DAY}T19:00Z",
            "middle": f"{day + over // 2 * DAY}T09:30Z",
            "told": f"{day:%a} {day.day} {day:%b %Y}" if over == 1 else f"week of {day.day} {day:%b %Y}",
            **{name: values[place] for name, values in rounded.items()},
        }
        for place, day in enumerate(days)
    ]


def _across(days: Sequence[date], over: int) -> dict[str, Any]:
    # Days are read as UTC and shown as UTC: in any browser's zone they stay the days they are.
    domain = [days[0].isoformat(), (_last(days, over) + DAY).isoformat()]
    long = len(days) * over > 120
    return {
        "field": "day",
        "type": "temporal",
        "title": None,
        "scale": {"type": "utc", "domain": domain},
        "axis": {"format": "%b %Y" if long else "%-d %b", "tickCount": 6, "labelOverlap": True},
    }


def _last(days: Sequence[date], over: int) -> date:
    return days[-1] + (over - 1) * DAY


def _line(
    name: str, style: str, across: dict[str, Any], up: dict[str, Any], over: int
) -> list[dict[str, Any]]:
    # Averages and responses are of the end of a week; at the end of a day they stand over its bar.
    at = {**across, "field": "middle" if over == 1 else "ends"}
    return [
        {
            "mark": {"type": "area", "style": f"{style}-band"},
            "encoding": {
                "x": at,
                "y": {"field": f"{name}_low", **up, "stack": None},
                "y2": {"field": f"{name}_high"},
            },
        },
        {
            "mark": {"type": "line", "style": style},
            "encoding": {"x": at, "y": {"field": f"{name}_median", **up}},
        },
    ]


def _told(what: str, figures: dict[str, str]) -> list[dict[str, Any]]:
    told: list[dict[str, Any]] = [{"field": "told", "type": "nominal", "title": what}]
    for title, name in figures.items():
        told += [
            {
                "field": f"{name}_{end}",
                "type": "quantitative",
                "title": f"{title}, {'median' if end == 'median' else f'80% {end}'}",
                "format": ".0f",
            }
            for end in ("median", "low", "high")
        ]
    return told


def _pointer(across: dict[str, Any], told: list[dict[str, Any]]) -> dict[str, Any]:
    near = {
        "name": "near",
        "select": {
            "type": "point",
            "nearest": True,
            "on": "pointermove",
            "encodings": ["x"],
            "clear": "pointerout",
        },
    }
    return {
        "mark": {"type": "rule", "style": "pointer"},
        "params": [near],
        "encoding": {
            "x": {**across, "field": "middle"},
            "tooltip": told,
            "opacity": {"condition": {"param": "near", "empty": False, "value": 0.5}, "value": 0},
        },
    }


def _in_words(values: FloatArray) -> str:
    low, median, high = (f"{value:.0f}" for value in values)
    return f"{median} ({low} to {high})"


def _spec(
    rows: list[dict[str, Any]], layers: list[dict[str, Any]], description: str, height: int
) -> dict[str, Any]:
    # Said once, and by the pointer, the last layer: Vega-Lite takes one domain said in several layers, or
    # by a layer that has a second end (x2), for conflicting ones.
    for layer in layers[:-1]:
        layer["encoding"]["x"] = layer["encoding"]["x"] | {"scale": {"type": "utc"}}
    return {
        "$schema": SCHEMA,
        "width": "container",
        "height": height,
        "description": description,
        "data": {"name": "days"},
        "layer": layers,
        "datasets": {"days": rows},
    }
