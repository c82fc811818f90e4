"""Bias in several conditions, such as activities or bands of intensity, each with its interval."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from accuracy.charts.differences import SIGNED
from trainlog.charts.spec import finished, layer, named_rows, number, told
from trainlog.web.words import signed

LANE = 38
"""Pixels of each condition."""


@dataclass(frozen=True)
class ConditionBias:
    """Bias of one condition in bpm, with its 95% interval where it is known, and each session's own."""

    name: str
    bias: float
    low: float | None = None
    high: float | None = None
    sessions: Sequence[float] = ()


def biases(conditions: Sequence[ConditionBias]) -> dict[str, Any]:
    """Bias of every condition with its interval, one below the other, and the sessions' own as small marks.

    Parameters
    ----------
    conditions : sequence of ConditionBias
        At least one, from top to bottom.

    Returns
    -------
    dict
        Vega-Lite spec.
    """
    names = [one.name for one in conditions]
    up = named_rows("name", names)
    across = number(
        "bias",
        title="tested minus reference, bpm",
        scale={"nice": True, "padding": 12},
        axis={"tickCount": 7, "labelExpr": SIGNED},
    )
    known = [one for one in conditions if one.low is not None and one.high is not None]
    datasets: dict[str, list[dict[str, Any]]] = {
        "equal": [{"bias": 0}],
        "biases": [{"name": one.name, "bias": round(one.bias, 2)} for one in conditions],
    }
    layers = [layer("equal", "rule", "zero", {"x": across})]
    sessions = [{"name": one.name, "bias": round(value, 2)} for one in conditions for value in one.sessions]
    if sessions:
        datasets["sessions"] = sessions
        below = {"x": across, "y": up, "yOffset": {"value": 11}}
        layers.append(layer("sessions", "point", "epoch", below, size=26, opacity=0.8))
    if known:
        datasets["intervals"] = [
            {"name": one.name, "low": round(one.low or 0, 2), "high": round(one.high or 0, 2)}
            for one in known
        ]
        ends = {"x": number("low"), "x2": {"field": "high"}, "y": up}
        layers.append(layer("intervals", "rule", "bias", ends, strokeWidth=2))
    tooltip = [told("name", "", kind="nominal"), told("bias", "bias, bpm", "+.1f")]
    layers.append(layer("biases", "point", "session", {"x": across, "y": up, "tooltip": tooltip}))
    named = ", ".join(f"{one.name} {signed(one.bias)}" for one in conditions)
    return finished(layers, datasets, f"Bias in bpm by condition: {named}.", LANE * len(names) + 10)
