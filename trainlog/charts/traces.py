"""Heart rate over a whole workout: traces, a band of what is likely, flagged stretches, parts.

Marks carry a style name ("reference", "tested", …) and no colour: the page gives each name its ink, in
light and dark, from the same custom properties that the rest of the page uses.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from trainlog.charts.lanes import LANE_HEIGHT, FlaggedStretch, draw_lanes, lanes_of
from trainlog.charts.spec import (
    NEAR,
    Encoding,
    finished,
    layer,
    number,
    pointed_at,
    rate_below_lanes,
    rows,
    told,
)
from trainlog.charts.thinning import DASHES, means_of, seconds_a_point
from trainlog.trace import FloatArray

HEIGHT = 270
"""Pixels of the traces, below parts and lanes."""

NOTHING_KNOWN = np.array([60.0, 180.0])
"""Ends in bpm of the axis of an empty chart."""

MOST_DRAWN = 1200
"""Points of each trace: about one a pixel where the page is widest."""

MOST_POINTED = 450
"""Places at which pointing tells the rates: each costs the browser more than a point of a line."""

STRIP_HEIGHT = 26
"""Pixels of the strip that names the parts."""

ZOOM: Encoding = {
    "name": "zoom",
    "select": {
        "type": "interval",
        "encodings": ["x"],
        # The wheel alone scrolls the page.
        "zoom": "wheel![event.shiftKey || event.ctrlKey]",
    },
    "bind": "scales",
}
"""Parameter: the minutes on show; drag to move along, double click for the whole."""

CHOSEN: Encoding = {"name": "chosen", "value": -1}
"""Parameter: place of the part that is chosen, -1 for none."""


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


@dataclass(frozen=True, eq=False)
class LikelyBand:
    """What the heart rate most likely was, on the seconds of a workout; NaN where nothing is said.

    Attributes
    ----------
    low, middle, high : array, shape (seconds,)
        bpm, an 80% band.
    """

    low: FloatArray
    middle: FloatArray
    high: FloatArray


def dashes(roles: Sequence[str]) -> list[list[int]]:
    """Stroke of each trace: solid for the first of a role, dashed in its own way for each further one."""
    return [DASHES[roles[:number].count(role) % len(DASHES)] for number, role in enumerate(roles)]


def traces(
    lines: Sequence[TraceLine],
    parts: Sequence[PartStretch],
    band: LikelyBand | None = None,
    flagged: Sequence[FlaggedStretch] = (),
) -> dict[str, Any]:
    """Heart rate of every recording of a workout against time, with the parts' boundaries.

    Parameters
    ----------
    lines : sequence of TraceLine
        Equally long, at 1 Hz.
    parts : sequence of PartStretch
        In order of time.
    band : LikelyBand, optional
        As long as the lines.
    flagged : sequence of FlaggedStretch
        Seconds since the workout began.

    Returns
    -------
    dict
        Vega-Lite spec. Fields ``t0``, ``t1``, … hold the traces in the order given, ``low``, ``middle`` and
        ``high`` the band. Parameter ``zoom`` is the minutes on show, ``chosen`` the place of a part.
    """
    seconds = len(lines[0].heart_rate)
    step = seconds_a_point(seconds, MOST_DRAWN)
    columns = {f"t{place}": means_of(line.heart_rate, step).round(1) for place, line in enumerate(lines)}
    if band is not None:
        of_band = {"low": band.low, "middle": band.middle, "high": band.high}
        columns |= {name: means_of(values, step).round(1) for name, values in of_band.items()}
    strip = STRIP_HEIGHT if len(parts) > 1 else 0
    height = HEIGHT + strip + LANE_HEIGHT * len(lanes_of(flagged))
    everything = np.concatenate(list(columns.values()))
    rate = rate_below_lanes(everything if np.isfinite(everything).any() else NOTHING_KNOWN, height, HEIGHT)
    time = number(
        "minute",
        title="minutes since the start",
        scale={"nice": False, "zero": False, "domain": [0, round(seconds / 60, 3)]},
        axis={"tickCount": 10},
    )
    minutes = (np.arange(len(columns["t0"])) * step / 60).round(3)
    datasets = {"traces": rows(minute=minutes, **columns)}
    drawn = [*_parts(parts, datasets), *draw_lanes(flagged, datasets, below=strip)]
    if band is not None:
        ends = {"x": time, "y": number("low", **rate), "y2": {"field": "high"}}
        drawn.append(layer("traces", "area", "corrected-band", ends, clip=True))
        middle = {"x": time, "y": number("middle", **rate)}
        drawn.append(layer("traces", "line", "corrected", middle, clip=True))
    for place, (line, dash) in enumerate(zip(lines, dashes([line.role for line in lines]), strict=True)):
        at = {"x": time, "y": number(f"t{place}", **rate)}
        drawn.append(layer("traces", "line", line.role, at, clip=True, strokeDash=dash))
    datasets["pointed"] = datasets["traces"][:: max(1, -(-len(minutes) // MOST_POINTED))]
    drawn.append(
        layer("pointed", "rule", "pointer", pointed_at(time, _told(lines, band)), params=[NEAR, ZOOM])
    )
    made = finished(drawn, datasets, _in_words(lines, band, flagged), height)
    return made | {"params": [CHOSEN]}


def _told(lines: Sequence[TraceLine], band: LikelyBand | None) -> list[Encoding]:
    """What pointing tells: minute, every rate, and the range of what is likely."""
    found = [told("minute", "minute", ".1f")]
    found += [told(f"t{place}", f"{line.name}, bpm", ".0f") for place, line in enumerate(lines)]
    if band is not None:
        found += [
            told("middle", "most likely, bpm", ".0f"),
            told("low", "likely from, bpm", ".0f"),
            told("high", "likely to, bpm", ".0f"),
        ]
    return found


def _parts(parts: Sequence[PartStretch], datasets: dict[str, list[dict[str, Any]]]) -> list[Encoding]:
    """Strip of the parts' names, which can be chosen; shade over the chosen one; rules between them."""
    if len(parts) < 2:
        return []
    datasets["parts"] = rows(
        minute=[round(part.begins / 60, 3) for part in parts],
        ends=[round(part.ends / 60, 3) for part in parts],
        activity=[part.activity for part in parts],
        place=list(range(len(parts))),
    )
    datasets["boundaries"] = datasets["parts"][1:]
    across = {"x": number("minute"), "x2": {"field": "ends"}}
    chosen = {"condition": {"test": "datum.place === chosen", "value": 0.6}, "value": 0}
    in_strip = {"y": {"value": 0}, "y2": {"value": STRIP_HEIGHT - 4}}
    name = {"x": number("minute"), "y": {"value": 4}, "text": {"field": "activity", "type": "nominal"}}
    return [
        layer("parts", "rect", "chosen-part", across | {"opacity": chosen}, clip=True),
        layer("parts", "rect", "part-strip", across | in_strip, clip=True, cursor="pointer"),
        layer("boundaries", "rule", "boundary", {"x": number("minute")}, clip=True),
        layer("parts", "text", "part-name", name, clip=True, align="left", baseline="top", dx=5),
    ]


def _in_words(lines: Sequence[TraceLine], band: LikelyBand | None, flagged: Sequence[FlaggedStretch]) -> str:
    names = "; ".join(map(_trace_in_words, lines))
    likely = "; the likely true heart rate as a band" if band is not None else ""
    marked = f"; flagged stretches: {len(flagged)}" if flagged else ""
    return f"Heart rate in bpm against minutes since the start: {names}{likely}{marked}."


def _trace_in_words(line: TraceLine) -> str:
    named = f"{line.name} ({line.role})"
    known = line.heart_rate[np.isfinite(line.heart_rate)]
    if not known.size:
        return f"{named}, nothing recorded"
    return f"{named}, {known.mean():.0f} on average, {known.min():.0f} to {known.max():.0f}"
