"""Difference between two tested sensors in each session, with the mean and its interval below."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from trainlog.charts.spec import Encoding, finished, layer, number, rows, told
from trainlog.web.words import signed

ROW_HEIGHT = 26
"""Pixels of a session's row."""

MOST_SESSIONS = 40
"""Sessions that are drawn; the newest are kept."""

MEAN = "mean"
"""Label of the last row."""


@dataclass(frozen=True)
class SessionDifference:
    """One session: what it goes by, each sensor's figure and their difference, in bpm."""

    label: str
    first: float
    second: float

    @property
    def difference(self) -> float:
        """First less second."""
        return self.first - self.second


def paired_differences(
    sessions: Sequence[SessionDifference],
    mean: float,
    interval: tuple[float, float] | None,
    *,
    names: tuple[str, str],
) -> dict[str, Any]:
    """Difference of the mean absolute error in each session, oldest on top, and their mean.

    Parameters
    ----------
    sessions : sequence of SessionDifference
        At least one, labels unlike each other.
    mean : float
        Over all sessions, bpm.
    interval : tuple of float or None
        95% of the mean; None with too few sessions.
    names : tuple of str
        Of the first and the second sensor.

    Returns
    -------
    dict
        Vega-Lite spec.
    """
    drawn = sessions[-MOST_SESSIONS:]
    ends = list(interval or ())
    reach = [0.0, mean, *ends, *(one.difference for one in drawn)]
    low, high = min(reach), max(reach)
    margin = max((high - low) * 0.06, 0.25)
    across: Encoding = {
        "title": "difference of the errors, bpm",
        "scale": {"domain": [round(low - margin, 2), round(high + margin, 2)], "nice": False, "zero": False},
        "axis": {"tickCount": 6, "labelExpr": "datum.value == 0 ? 'equal' : format(datum.value, '+~g')"},
    }
    down: Encoding = {
        "field": "session",
        "type": "nominal",
        "title": None,
        "sort": None,
        "scale": {"domain": [*(one.label for one in drawn), MEAN]},
        "axis": {"labelLimit": 150, "ticks": False, "domain": False, "labelPadding": 8},
    }
    datasets = {
        "sessions": rows(
            session=[one.label for one in drawn],
            first=[round(one.first, 2) for one in drawn],
            second=[round(one.second, 2) for one in drawn],
            difference=[round(one.difference, 3) for one in drawn],
            equal=[0] * len(drawn),
        ),
        "mean": [{"session": MEAN, "difference": round(mean, 3)}],
        "zero": [{"difference": 0}],
    }
    tooltip = [
        told("session", "session", kind="nominal"),
        told("first", f"{names[0]}, bpm", ".1f"),
        told("second", f"{names[1]}, bpm", ".1f"),
        told("difference", "difference, bpm", "+.1f"),
    ]
    x = number("difference", **across)
    layers = [
        layer("zero", "rule", "zero", {"x": x}),
        layer(
            "sessions",
            "rule",
            "day-interval",
            {"y": down, "x": number("equal"), "x2": {"field": "difference"}},
        ),
        layer("sessions", "point", "session", {"y": down, "x": x, "tooltip": tooltip}),
    ]
    if interval is not None:
        datasets["interval"] = [
            {"session": MEAN, "low": round(interval[0], 3), "high": round(interval[1], 3)}
        ]
        ends_of = {"y": down, "x": number("low"), "x2": {"field": "high"}}
        layers.append(layer("interval", "bar", "level-band", ends_of, height=14))
    layers.append(layer("mean", "tick", "bias", {"y": down, "x": x}, thickness=3, size=18))
    words = (
        f"Mean absolute error of {names[0]} less that of {names[1]}, bpm, in {len(drawn)} sessions: "
        + "; ".join(f"{one.label} {signed(one.difference)}" for one in drawn)
        + f". Mean {signed(mean)}"
        + (
            f", 95% interval {signed(interval[0])} to {signed(interval[1])}."
            if interval
            else ", no interval."
        )
    )
    return finished(layers, datasets, words, ROW_HEIGHT * (len(drawn) + 1))
