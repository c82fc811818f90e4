"""How often intervals held the truth, against how often they should have."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import scipy

from trainlog.charts.spec import finished, layer, number, rows, told
from trainlog.charts.thinning import DASHES
from trainlog.trace import FloatArray

HEIGHT = 280
NOMINAL = np.round(np.arange(0.0, 1.0001, 0.05), 2)
"""Probabilities of the central intervals that are drawn."""


BY_CHANCE = 0.9
"""Probability with which the count of a calibrated interval stays in the band that is drawn."""


def calibration(probabilities: Mapping[str, FloatArray], by_chance_of: int | None = None) -> dict[str, Any]:
    """Share of sessions inside central intervals of every width, one line a group.

    Parameters
    ----------
    probabilities : mapping of name to array, shape (sessions,)
        Of each prediction lying below what came (probability integral transforms).
    by_chance_of : int, optional
        Draw where calibrated intervals of so many independent sessions would stay, at each width with 90%
        probability.

    Returns
    -------
    dict
        Vega-Lite spec. On the diagonal intervals hold as often as they say; above it they are wider than
        they need be, below it too narrow.
    """
    names = list(probabilities)
    lines = []
    for name, values in probabilities.items():
        central = np.abs(2 * np.asarray(values) - 1)
        held = [float(np.mean(central <= wanted + 1e-9)) for wanted in NOMINAL]
        lines += rows(wanted=100 * NOMINAL, held=100 * np.array(held), group=[name] * len(NOMINAL))
    axis = {"scale": {"domain": [0, 100]}, "axis": {"values": [0, 25, 50, 80, 95]}}
    across = number("wanted", title="interval meant to hold, %", **axis)
    up = number("held", title="sessions it held, %", **axis)
    strokes = [DASHES[place % len(DASHES)] for place in range(len(names))]
    by_group = {
        "field": "group",
        "type": "nominal",
        "title": None,
        "scale": {"domain": names, "range": strokes},
        "legend": {"orient": "bottom"} if len(names) > 1 else None,
    }
    tooltip = [
        told("group", "sessions", kind="nominal"),
        told("wanted", "meant to hold, %", ".0f"),
        told("held", "held, %", ".0f"),
    ]
    layers = []
    datasets = {"diagonal": rows(wanted=[0, 100], held=[0, 100]), "lines": lines}
    if by_chance_of:
        expected = scipy.stats.binom(by_chance_of, NOMINAL)
        low, high = (100 * end / by_chance_of for end in expected.interval(BY_CHANCE))
        datasets["chance"] = rows(wanted=100 * NOMINAL, low=low, high=high)
        ends = {"x": across, "y": number("low", **axis), "y2": {"field": "high"}}
        layers.append(layer("chance", "area", "level-band", ends))
    layers += [
        layer("diagonal", "line", "zero", {"x": across, "y": up}),
        layer(
            "lines",
            "line",
            "corrected",
            {"x": across, "y": up, "strokeDash": by_group, "tooltip": tooltip},
            strokeWidth=2,
        ),
    ]
    words = "Share of sessions held by central intervals of every width; the diagonal is what they promise."
    for name, values in probabilities.items():
        of_80 = np.mean(np.abs(2 * np.asarray(values) - 1) <= 0.8)
        words += f" 80% intervals held {100 * of_80:.0f}% of {len(values)} sessions ({name})."
    return finished(layers, datasets, words, HEIGHT)
