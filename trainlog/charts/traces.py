"""The log's charts, each a function from arrays to a declarative spec.

Marks carry a style name ("reference", "tested", …) and no colour: the page gives each name its ink, in
light and dark, from the same custom properties that the rest of the page uses.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import altair as alt
import numpy as np
import pandas as pd

from trainlog.charts.thinning import DASHES, means_of, seconds_a_point
from trainlog.trace import FloatArray

HEIGHT = 300


@dataclass(frozen=True)
class TraceLine:
    """One heart-rate trace on the seconds of a workout, NaN for gaps; role: reference, tested or unknown."""

    name: str
    role: str
    heart_rate: FloatArray


@dataclass(frozen=True)
class PartStretch:
    """A part, in seconds since the workout began."""

    activity: str
    begins: float
    ends: float


def dashes(roles: Sequence[str]) -> list[list[int]]:
    """Stroke of each trace: solid for the first of a role, dashed in its own way for each further one."""
    return [DASHES[roles[:number].count(role) % len(DASHES)] for number, role in enumerate(roles)]


def traces(lines: Sequence[TraceLine], parts: Sequence[PartStretch]) -> dict[str, Any]:
    """Heart rate of every recording of a workout against time, with the parts' boundaries.

    Parameters
    ----------
    lines : sequence of TraceLine
        Equally long, at 1 Hz.
    parts : sequence of PartStretch
        In order of time.

    Returns
    -------
    dict
        Vega-Lite spec. Fields ``t0``, ``t1``, … hold the traces in the order given.
    """
    step = seconds_a_point(len(lines[0].heart_rate))
    columns = {f"t{number}": means_of(line.heart_rate, step).round(1) for number, line in enumerate(lines)}
    frame = pd.DataFrame({"minute": (np.arange(len(columns["t0"])) * step / 60).round(3), **columns})
    time = alt.X("minute:Q").title("minutes since the start").scale(nice=False, zero=False).axis(tickCount=10)
    base = alt.Chart(frame).encode(x=time)
    drawn: list[alt.Chart] = []
    for number, (line, dash) in enumerate(zip(lines, dashes([line.role for line in lines]), strict=True)):
        rate = alt.Y(f"t{number}:Q").title("heart rate, bpm").scale(zero=False)
        drawn.append(base.mark_line(style=line.role, strokeDash=dash, clip=True).encode(y=rate))
    told = [alt.Tooltip("minute:Q", title="minute", format=".1f")] + [
        alt.Tooltip(f"t{number}:Q", title=f"{line.name}, bpm", format=".0f")
        for number, line in enumerate(lines)
    ]
    near = alt.selection_point(name="near", nearest=True, on="pointermove", encodings=["x"], empty=False)
    pointed_at = (
        base.mark_rule(style="pointer")
        .encode(tooltip=told, opacity=alt.condition(near, alt.value(0.5), alt.value(0)))
        .add_params(near)
    )
    return _finished(alt.layer(*drawn, *_boundaries(parts), pointed_at), description=_traces_in_words(lines))


def _boundaries(parts: Sequence[PartStretch]) -> list[alt.Chart]:
    """Rules where a part begins after another, and the parts' names along the top."""
    if len(parts) < 2:
        return []
    frame = pd.DataFrame(
        {
            "minute": [round(part.begins / 60, 3) for part in parts],
            "activity": [part.activity for part in parts],
        }
    )
    rules = alt.Chart(frame.iloc[1:]).mark_rule(style="boundary").encode(x="minute:Q")
    names = (
        alt.Chart(frame)
        .mark_text(style="part-name", align="left", baseline="top", dx=5)
        .encode(x="minute:Q", y=alt.value(2), text="activity:N")
    )
    return [rules, names]


def _traces_in_words(lines: Sequence[TraceLine]) -> str:
    names = ", ".join(f"{line.name} ({line.role})" for line in lines)
    return f"Heart rate in bpm against minutes since the start: {names}."


def _finished(chart: Any, description: str) -> dict[str, Any]:
    spec: dict[str, Any] = chart.properties(
        width="container", height=HEIGHT, description=description
    ).to_dict()
    spec.pop("config", None)
    return spec
