"""Figures of a report as pictures, and the small marks of their keys."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from django.utils.html import escape

from accuracy.report.document import Document, Figure
from accuracy.report.reading import every_figure
from trainlog.charts.ink import styles
from trainlog.charts.picture import Picture, draw_apart

WIDTH = 620
"""Pixels; at 12 pixels a letter this reads well across a printed page."""

KIND_OF_KEY = {
    "line": "line",
    "point": "point",
    "circle": "point",
    "tick": "line",
    "rule": "line",
    "area": "patch",
    "rect": "patch",
    "bar": "patch",
}
"""How a key shows a style, by the kind of mark that has it; of several the first one here."""


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


def described(svg: str, name: str, figure: Figure) -> str:
    """Drawing that says what it is and shows: one image to whoever is read to.

    Parameters
    ----------
    svg : str
        Text of the drawing.
    name : str
        With which the names of its title and description begin.
    figure : Figure
        With its caption and alternative.
    """
    beginning, _, inside = svg.partition(">")
    named = f'{beginning} role="img" aria-labelledby="{name}-title" aria-describedby="{name}-words">'
    title = f'<title id="{name}-title">{escape(figure.caption)}</title>'
    words = f'<desc id="{name}-words">{escape(figure.alternative)}</desc>'
    return f"{named}{title}{words}{inside}"


def key_mark(figure: Figure, style: str) -> str:
    """Small SVG of a style as it looks in a figure; a patch of its colour where no mark of it is drawn.

    Raises
    ------
    KeyError
        If there is no such style.
    """
    own = _marks_of(figure.spec, style)
    kinds = {mark["type"]: mark for mark in own}
    drawn = next((kind for kind in KIND_OF_KEY if kind in kinds), "rect")
    look = {**styles()[style], **kinds.get(drawn, {})}
    shape = {"line": _line, "point": _point, "patch": _patch}[KIND_OF_KEY[drawn]](look)
    return f'<svg xmlns="http://www.w3.org/2000/svg" width="26" height="14" viewBox="0 0 26 14">{shape}</svg>'


def _marks_of(spec: Mapping[str, Any], style: str) -> list[Mapping[str, Any]]:
    """Definitions of the marks of a style, wherever in a spec they are."""
    mark = spec.get("mark")
    found = [mark] if isinstance(mark, Mapping) and mark.get("style") == style else []
    for together in ("layer", "hconcat", "vconcat", "concat"):
        found += [one for part in spec.get(together, []) for one in _marks_of(part, style)]
    return found + (_marks_of(spec["spec"], style) if "spec" in spec else [])


def _line(look: Mapping[str, Any]) -> str:
    dash = " ".join(str(length) for length in look.get("strokeDash", []))
    dashed = f' stroke-dasharray="{dash}"' if dash else ""
    width = look.get("strokeWidth", 1)
    return f'<line x1="1" x2="25" y1="7" y2="7" stroke="{_colour(look)}" stroke-width="{width}"{dashed}/>'


def _point(look: Mapping[str, Any]) -> str:
    if look.get("shape") == "cross":
        return f'<path d="M9 3 17 11M17 3 9 11" stroke="{_colour(look)}" stroke-width="1.5"/>'
    radius = round(math.sqrt(look.get("size", 40) / math.pi), 1)
    fill = _colour(look) if look.get("filled", True) else "none"
    edge = look.get("stroke") or (_colour(look) if fill == "none" else "")
    edged = f' stroke="{edge}"' if edge else ""
    opacity = look.get("opacity", 1)
    return f'<circle cx="13" cy="7" r="{radius}" fill="{fill}" fill-opacity="{opacity}"{edged}/>'


def _patch(look: Mapping[str, Any]) -> str:
    opacity = look.get("opacity", 1)
    return f'<rect x="1" y="2" width="24" height="10" fill="{_colour(look)}" fill-opacity="{opacity}"/>'


def _colour(look: Mapping[str, Any]) -> str:
    return str(look.get("color") or look.get("stroke"))
