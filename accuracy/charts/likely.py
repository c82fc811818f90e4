"""The likely-true trace of a wrist-only part as a band, with the trace that the wrist wrote."""

from __future__ import annotations

from typing import Any

import numpy as np

from trainlog.charts.spec import NEAR, finished, layer, minutes_of_part, number, pointed_at, rows, told
from trainlog.charts.thinning import means_of, seconds_a_point
from trainlog.trace import FloatArray

HEIGHT = 260


def likely_trace(tested: FloatArray, low: FloatArray, middle: FloatArray, high: FloatArray) -> dict[str, Any]:
    """Band of the likely-true heart rate with its middle, and the tested trace, against time.

    Parameters
    ----------
    tested, low, middle, high : array, shape (seconds,)
        Heart rate in bpm at 1 Hz, NaN where nothing was recorded; at least one known.

    Returns
    -------
    dict
        Vega-Lite spec with fields ``minute``, ``tested``, ``low``, ``middle`` and ``high``.
    """
    step = seconds_a_point(len(tested))
    wrist, lower, likely, upper = (means_of(values, step).round(1) for values in (tested, low, middle, high))
    time = minutes_of_part(len(tested))
    everything = np.concatenate([wrist, lower, upper])
    ends = [round(float(np.nanmin(everything)) - 3, 1), round(float(np.nanmax(everything)) + 3, 1)]
    rate = {"title": "heart rate, bpm", "scale": {"domain": ends, "nice": False, "zero": False}}
    pointer = pointed_at(
        time,
        [
            told("minute", "minute", ".1f"),
            told("tested", "tested, bpm", ".0f"),
            told("middle", "most likely, bpm", ".0f"),
            told("low", "band from, bpm", ".0f"),
            told("high", "band to, bpm", ".0f"),
        ],
    )
    minute = (np.arange(len(wrist)) * step / 60).round(3)
    datasets = {"traces": rows(minute=minute, tested=wrist, low=lower, middle=likely, high=upper)}
    band = {"x": time, "y": number("low", **rate), "y2": {"field": "high"}}
    layers = [
        layer("traces", "area", "corrected-band", band, clip=True),
        layer("traces", "line", "corrected", {"x": time, "y": number("middle", **rate)}, clip=True),
        layer("traces", "line", "tested", {"x": time, "y": number("tested", **rate)}, clip=True),
        layer("traces", "rule", "pointer", pointer, params=[NEAR]),
    ]
    words = (
        "Heart rate in bpm against minutes since the part began: the tested sensor, and the likely true "
        "heart rate as a band that holds about four in five seconds."
    )
    return finished(layers, datasets, words, HEIGHT)
