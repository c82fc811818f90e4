"""Tested load against reference load, session by session, as recorded and as foretold from the others."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from accuracy.charts.ratios import Band, ratio_axis
from accuracy.words import difference
from trainlog.charts.spec import finished, layer, number, told

HEIGHT = 280


@dataclass(frozen=True)
class SessionLoad:
    """A session's place along the axis, its name, its load over the reference's, and the corrected one."""

    place: float
    name: str
    ratio: float
    corrected: float | None = None


def session_loads(sessions: Sequence[SessionLoad], band: Band | None = None) -> dict[str, Any]:
    """Ratio of tested to reference load of each session on a log scale, in order of the sessions.

    Parameters
    ----------
    sessions : sequence of SessionLoad
        At least one. Where one is corrected a line leads from its load as it stands to the corrected one.
    band : Band or None
        Mean ratio of a sensor and the limits that hold 95% of its sessions.

    Returns
    -------
    dict
        Vega-Lite spec.
    """
    drawn: list[dict[str, Any]] = [
        {"place": one.place, "name": one.name, "ratio": round(one.ratio, 4), "said": difference(one.ratio)}
        for one in sessions
    ]
    corrected: list[dict[str, Any]] = [
        {"place": one.place, "name": one.name, "ratio": round(one.corrected, 4), "from": round(one.ratio, 4)}
        | {"said": difference(one.corrected)}
        for one in sessions
        if one.corrected is not None
    ]
    reach = [row["ratio"] for row in [*drawn, *corrected]] + ([band.low, band.high] if band else [])
    up = ratio_axis("ratio", reach)
    across = number(
        "place",
        title="session",
        scale={"nice": False, "zero": False, "padding": 14},
        axis={"tickMinStep": 1, "format": "d", "tickCount": 12},
    )
    datasets: dict[str, list[dict[str, Any]]] = {"equal": [{"ratio": 1.0}], "sessions": drawn}
    layers = [layer("equal", "rule", "zero", {"y": up})]
    if band:
        datasets["mean"] = [{"ratio": round(band.median, 4)}]
        datasets["limits"] = [{"ratio": round(band.low, 4)}, {"ratio": round(band.high, 4)}]
        layers += [layer("mean", "rule", "bias", {"y": up}), layer("limits", "rule", "limit", {"y": up})]
    tooltip = [
        told("name", "session", kind="nominal"),
        told("said", "load against reference", kind="nominal"),
    ]
    at = {"x": across, "y": up, "tooltip": tooltip}
    if corrected:
        datasets["corrected"] = corrected
        moved = {"x": across, "y": number("from"), "y2": {"field": "ratio"}}
        layers.append(layer("corrected", "rule", "pointer", moved, opacity=0.6))
    layers.append(layer("sessions", "point", "tested", at, shape="circle", filled=True, size=55, opacity=1))
    if corrected:
        look = {"shape": "diamond", "filled": False, "size": 70, "strokeWidth": 2, "opacity": 1}
        layers.append(layer("corrected", "point", "corrected", at, **look))
    words = f"Tested over reference load of {len(sessions)} sessions in their order, on a log scale."
    return finished(layers, datasets, words, HEIGHT)
