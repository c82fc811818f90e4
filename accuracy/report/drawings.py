"""Figures of a report as pictures, and the small marks of their keys."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from accuracy.report.document import Document, Figure
from accuracy.report.reading import every_figure
from trainlog.charts.ink import styles
from trainlog.charts.picture import Picture, draw_apart

WIDTH = 620
"""Pixels; at 12 pixels a letter this reads well across a printed page."""

FILLED = re.compile(r"band$|^flagged$|^density$|^day-load$")
"""Styles whose key is a patch, not a line or a point."""


def pictures_of(document: Document) -> dict[str, Picture]:
    """Draw every figure of a report once, by name; all forms use the same drawings.

    Raises
    ------
    ValueError
        If two figures have the same name.
    subprocess.CalledProcessError
        If one cannot be drawn.
    """
    return draw_apart({figure.name: _spec(figure) for _, figure in every_figure(document)}, width=WIDTH)


def _spec(figure: Figure) -> dict[str, Any]:
    """Spec of a figure, square where it is held against the line of identity."""
    spec = dict(figure.spec)
    layers = spec.get("layer", [])
    marks = [layer.get("mark") for layer in layers if isinstance(layer, Mapping)]
    against_identity = any(isinstance(mark, Mapping) and mark.get("style") == "identity" for mark in marks)
    if against_identity and isinstance(spec.get("height"), int):
        spec["width"] = spec["height"]
    return spec


def key_mark(style: str) -> str:
    """Small SVG of a style as it looks in a figure.

    Raises
    ------
    KeyError
        If there is no such style.
    """
    marks = styles()[style]
    colour = marks.get("color", marks.get("stroke"))
    opacity = marks.get("opacity", 1)
    if FILLED.search(style):
        shape = f'<rect x="1" y="2" width="24" height="10" fill="{colour}" fill-opacity="{opacity}"/>'
    elif "shape" in marks:
        edge = f' stroke="{marks["stroke"]}"' if "stroke" in marks else ""
        shape = f'<circle cx="13" cy="7" r="4" fill="{colour}" fill-opacity="{opacity}"{edge}/>'
    else:
        dash = " ".join(str(length) for length in marks.get("strokeDash", []))
        dashed = f' stroke-dasharray="{dash}"' if dash else ""
        width = marks.get("strokeWidth", 1.5)
        shape = f'<line x1="1" x2="25" y1="7" y2="7" stroke="{colour}" stroke-width="{width}"{dashed}/>'
    return f'<svg xmlns="http://www.w3.org/2000/svg" width="26" height="14" viewBox="0 0 26 14">{shape}</svg>'
