"""How long into each session a sensor took to find the heart rate."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from trainlog.charts.spec import finished, layer, named_rows, number, told

LANE = 38
"""Pixels of each activity."""


@dataclass(frozen=True)
class LockOn:
    """A session: its name, its activity, and seconds until the sensor locked on; None if it never did."""

    name: str
    activity: str
    seconds: float | None


def lock_on(sessions: Sequence[LockOn]) -> dict[str, Any]:
    """Minutes until locked on, a mark a session, in a lane for each activity; "never" is at the right end.

    Parameters
    ----------
    sessions : sequence of LockOn
        At least one; lanes from top to bottom in the order of first appearance.

    Returns
    -------
    dict
        Vega-Lite spec.
    """
    activities = list(dict.fromkeys(one.activity for one in sessions))
    up = named_rows("activity", activities)
    longest = max([one.seconds / 60 for one in sessions if one.seconds is not None], default=0.0)
    across = number(
        "minute",
        title="minutes until locked on",
        scale={"domain": [0, round(max(longest * 1.05, 1.0), 3)], "nice": False},
        axis={"tickCount": 8},
    )
    found = [
        {"name": one.name, "activity": one.activity, "minute": round(one.seconds / 60, 3)}
        for one in sessions
        if one.seconds is not None
    ]
    never = [{"name": one.name, "activity": one.activity} for one in sessions if one.seconds is None]
    datasets: dict[str, list[dict[str, Any]]] = {}
    layers = []
    tooltip = [told("name", "session", kind="nominal"), told("minute", "locked on after, min", ".1f")]
    if found:
        datasets["locked"] = found
        encoding = {"x": across, "y": up, "tooltip": tooltip}
        layers.append(layer("locked", "point", "session", encoding, size=60, opacity=0.75))
    if never:
        datasets["never"] = never
        encoding = {"x": {"value": "width"}, "y": up, "tooltip": tooltip[:1]}
        layers.append(layer("never", "point", "unknown", encoding, shape="cross", filled=False, size=70))
    words = (
        f"Minutes until the sensor locked on in {len(sessions)} sessions, by activity; "
        f"in {len(never)} it never did."
    )
    return finished(layers, datasets, words, LANE * len(activities) + 10)
