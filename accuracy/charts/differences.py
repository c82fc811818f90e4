"""Difference plot: how far two sensors lie apart, against the mean of both."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from accuracy.core.agreement.regression_limits import RegressionLimits
from trainlog.charts.spec import Encoding, finished, layer, number, rows, told
from trainlog.web.words import signed

HEIGHT = 400

SIGNED = "datum.value == 0 ? '0' : format(datum.value, '+~g')"
"""Label of a difference, with its sign and without a sign before zero."""

Datasets = dict[str, list[dict[str, Any]]]


@dataclass(frozen=True)
class Level:
    """A difference in bpm with the 95% interval it is known to; None where that is not known."""

    name: str
    value: float
    low: float | None = None
    high: float | None = None


@dataclass(frozen=True)
class SessionMark:
    """A session in a plot of several: its day, or its name instead, and the means over it in bpm."""

    day: str
    mean: float
    difference: float
    name: str = ""


def differences(
    points: Mapping[str, Sequence[float]],
    levels: Sequence[Level],
    *,
    sloped: RegressionLimits | None = None,
    sessions: Sequence[SessionMark] = (),
    epoch_seconds: int,
) -> dict[str, Any]:
    """Difference of each epoch against the mean of both sensors, with bias and limits of agreement.

    Parameters
    ----------
    points : mapping
        ``mean_bpm`` and ``difference_bpm`` (tested minus reference), equally long.
    levels : sequence of Level
        Bias first, then the limits.
    sloped : RegressionLimits or None
        Bias and limits that change with the rate, drawn beside the level ones.
    sessions : sequence of SessionMark
        Drawn as larger marks over the epochs.
    epoch_seconds : int
        Length of an epoch.

    Returns
    -------
    dict
        Vega-Lite spec.
    """
    datasets: Datasets = {
        "epochs": rows(
            mean=np.round(points["mean_bpm"], 1), difference=np.round(points["difference_bpm"], 1)
        ),
        "zero": [{"difference": 0}],
    }
    x = number(
        "mean",
        title="mean of both, bpm",
        scale={"zero": False, "nice": False, "padding": 8},
        axis={"tickCount": 6},
    )
    y = number("difference", title="tested minus reference, bpm", axis={"tickCount": 7, "labelExpr": SIGNED})
    layers = [
        *_bands(levels, datasets),
        layer("zero", "rule", "zero", {"y": y}),
        layer("epochs", "point", "epoch", {"x": x, "y": y}),
        *(_slopes(sloped, datasets) if sloped else []),
        *(_session_marks(sessions, datasets, x, y) if sessions else []),
        *_lines(levels, datasets, y),
    ]
    named = ", ".join(f"{level.name} {signed(level.value)}" for level in levels)
    words = (
        "Tested minus reference heart rate against the mean of both, in bpm: "
        f"{len(datasets['epochs'])} epochs of {epoch_seconds} s; {named}."
    )
    return finished(layers, datasets, words, HEIGHT)


def _bands(levels: Sequence[Level], datasets: Datasets) -> list[Encoding]:
    """Interval of each level."""
    known = [level for level in levels if level.low is not None and level.high is not None]
    if not known:
        return []
    datasets["intervals"] = [
        {"level": level.name, "low": round(level.low or 0, 2), "high": round(level.high or 0, 2)}
        for level in known
    ]
    return [layer("intervals", "rect", "level-band", {"y": number("low"), "y2": {"field": "high"}})]


def _lines(levels: Sequence[Level], datasets: Datasets, y: Encoding) -> list[Encoding]:
    """Rule of each level, solid for the bias, and its words at the right end, away from the bias."""
    drawn = []
    for place, level in enumerate(levels):
        name = f"level-{place}"
        datasets[name] = [
            {"difference": round(level.value, 2), "words": f"{level.name} {signed(level.value)}"}
        ]
        below = level.value < levels[0].value
        text = {"x": {"value": "width"}, "y": y, "text": {"field": "words", "type": "nominal"}}
        look = {
            "align": "right",
            "baseline": "top" if below else "bottom",
            "dy": 4 if below else -4,
        }
        drawn += [
            layer(name, "rule", "limit" if place else "bias", {"y": y}),
            layer(name, "text", "halo", text, **look),
            layer(name, "text", "part-name", text, **look),
        ]
    return drawn


def _slopes(sloped: RegressionLimits, datasets: Datasets) -> list[Encoding]:
    """Bias and limits that change with the rate, over the rates they were found on."""
    ends = np.array([sloped.lowest, sloped.highest])
    drawn = []
    for name, at in zip(("lower", "bias", "upper"), sloped.at(ends), strict=True):
        datasets[f"sloped-{name}"] = rows(mean=ends.round(1), difference=np.asarray(at).round(2))
        drawn.append(
            layer(
                f"sloped-{name}", "line", "slope", {"x": number("mean"), "y": number("difference")}, clip=True
            )
        )
    return drawn


def _session_marks(
    sessions: Sequence[SessionMark], datasets: Datasets, x: Encoding, y: Encoding
) -> list[Encoding]:
    datasets["sessions"] = [
        ({"name": one.name} if one.name else {"day": one.day})
        | {"mean": round(one.mean, 1), "difference": round(one.difference, 1)}
        for one in sessions
    ]
    tooltip = [
        told("name", "session", kind="nominal")
        if sessions[0].name
        else told("day", "session", "%-d %b %Y", kind="temporal"),
        told("mean", "mean of both, bpm", ".0f"),
        told("difference", "mean difference, bpm", "+.1f"),
    ]
    return [layer("sessions", "point", "session", {"x": x, "y": y, "tooltip": tooltip})]
