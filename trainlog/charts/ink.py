"""The light page's ink for charts that become files, read from where the pages take theirs."""

from __future__ import annotations

import json
import re
from functools import cache
from pathlib import Path
from typing import Any

STATIC = Path(__file__).parents[1] / "static" / "trainlog"
PAPER = "#ffffff"
"""Ground of a file; a page's is a little warmer."""

FONTS = "Liberation Sans, Arial, Helvetica, sans-serif"
"""What text of a drawing is set in: the first is drawn with everywhere, the others are of its widths."""

_STYLES = re.compile(r"export const STYLES = (\{.*\});", re.DOTALL)
_COLOUR = re.compile(r"(--[\w-]+):\s*(#[0-9a-fA-F]{6});")


@cache
def colours() -> dict[str, str]:
    """Colours of the light page by the names of their custom properties, on white paper."""
    found: dict[str, str] = {}
    for sheet in sorted(STATIC.glob("*.css")):
        light, *_ = sheet.read_text(encoding="utf-8").partition("prefers-color-scheme: dark")
        for name, colour in _COLOUR.findall(light):
            found.setdefault(name, colour)
    return found | {"--ground": PAPER}


@cache
def styles() -> dict[str, dict[str, Any]]:
    """What each style name of a spec looks like, with the light page's colours.

    Raises
    ------
    KeyError
        If a style names a colour that no sheet has.
    """
    written = _STYLES.search((STATIC / "ink.js").read_text(encoding="utf-8"))
    assert written, "ink.js holds no table of styles"
    known = colours()
    return {
        name: {
            key: known[value] if isinstance(value, str) and value.startswith("--") else value
            for key, value in marks.items()
        }
        for name, marks in json.loads(written[1]).items()
    }


def config() -> dict[str, Any]:
    """Vega-Lite configuration of a drawing in a file, as ``charts.js`` has it for a page."""
    known = colours()
    text = {"labelColor": known["--quiet"], "titleColor": known["--quiet"]}
    sizes = {"labelFontSize": 12, "titleFontSize": 12}
    lines = {"domainColor": known["--rule"], "tickColor": known["--rule"]}
    return {
        "background": PAPER,
        "font": FONTS,
        # A file's figure is described as a whole; a label on each of a thousand marks would only swell it.
        "aria": False,
        "view": {"stroke": None},
        "axis": {**text, **sizes, **lines, "titleFontWeight": "normal", "gridColor": known["--hairline"]},
        "axisX": {"grid": False},
        "style": styles(),
    }
