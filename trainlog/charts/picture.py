"""A chart as a file, with the ink that a page would give it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

INK = {"corrected": {"color": "#1d5394"}, "zero": {"color": "#8a8a86", "strokeDash": [4, 4]}}
"""The light page's colours of these styles, from ``static/trainlog/base.css``."""

WIDTH = 460


def save_picture(spec: dict[str, Any], path: Path) -> None:
    """Draw a spec into an SVG or PNG file, by the ending of its name.

    Raises
    ------
    ValueError
        If the name ends otherwise.
    """
    import vl_convert  # noqa: PLC0415  (30 MB that only pictures need)

    drawn = spec | {"width": WIDTH, "config": {"style": INK, "background": "white"}}
    if path.suffix == ".svg":
        path.write_text(vl_convert.vegalite_to_svg(drawn))
    elif path.suffix == ".png":
        path.write_bytes(vl_convert.vegalite_to_png(drawn, scale=2))
    else:
        raise ValueError(f"a picture is .svg or .png, not {path.suffix or path.name!r}")
