"""Identity density: how often which reference rate met which tested rate."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

import numpy as np

from trainlog.charts.spec import finished, layer, number, rows, told
from trainlog.trace import FloatArray

HEIGHT = 400

PALEST = 0.14
"""Opacity of a cell of one epoch; the fullest cell has 1, and the logarithm of the count lies between."""


def identity_density(
    cells: Mapping[str, Any], *, epoch_seconds: int, with_pointer: bool = True
) -> dict[str, Any]:
    """Cells of reference and tested rate, the darker the more time, with the line of identity.

    Parameters
    ----------
    cells : mapping
        ``reference_bpm`` and ``tested_bpm`` (lower edges), ``epochs`` (counts), equally long and not empty;
        and ``cell_bpm``, their width.
    epoch_seconds : int
        Length of an epoch.
    with_pointer : bool
        Whether cells tell their figures to a pointer; on paper they need not.

    Returns
    -------
    dict
        Vega-Lite spec; both axes have the same range.
    """
    width, counts = cells["cell_bpm"], np.asarray(cells["epochs"], dtype=float)
    x, y = (np.asarray(cells[name], dtype=float) for name in ("reference_bpm", "tested_bpm"))
    most = float(counts.max())
    ink = PALEST + (1 - PALEST) * np.log(counts) / math.log(most) if most > 1 else np.ones(len(counts))
    ends = [
        math.floor(min(x.min(), y.min()) / 10) * 10,
        math.ceil((max(x.max(), y.max()) + width) / 10) * 10,
    ]
    datasets = {
        "cells": rows(
            reference=x,
            reference_end=x + width,
            tested=y,
            tested_end=y + width,
            ink=ink.round(3),
            **(_told_of(x, y, width, counts * epoch_seconds) if with_pointer else {}),
        ),
        "identity": [{"reference": end, "tested": end} for end in ends],
    }
    shared = {"scale": {"domain": ends, "nice": False, "zero": False}, "axis": {"tickCount": 6}}
    across = number("reference", title="reference, bpm", **shared)
    up = number("tested", title="tested, bpm", **shared)
    drawn: dict[str, Any] = {
        "x": across,
        "x2": {"field": "reference_end"},
        "y": up,
        "y2": {"field": "tested_end"},
        "opacity": number("ink", scale=None, legend=None),
    }
    if with_pointer:
        drawn["tooltip"] = [
            told("reference_words", "reference, bpm", kind="nominal"),
            told("tested_words", "tested, bpm", kind="nominal"),
            told("seconds", "seconds", "d"),
        ]
    layers = [
        layer("cells", "rect", "density", drawn),
        layer("identity", "line", "identity-edge", {"x": across, "y": up}),
        layer("identity", "line", "identity", {"x": across, "y": up}),
    ]
    words = (
        f"Time at each reference and tested rate in cells of {width} bpm, the darker the more, with the line "
        f"on which both read the same; the fullest cell holds {most * epoch_seconds:.0f} s."
    )
    return finished(layers, datasets, words, HEIGHT)


def _told_of(x: FloatArray, y: FloatArray, width: float, seconds: FloatArray) -> dict[str, Any]:
    """What a cell tells of itself: both ranges, and the time in it."""
    return {
        "seconds": seconds.astype(int),
        "reference_words": _ranges(x, width),
        "tested_words": _ranges(y, width),
    }


def _ranges(edges: FloatArray, width: float) -> list[str]:
    return [f"{edge:.0f}–{edge + width:.0f}" for edge in edges]
