"""Charts as files, with the ink that a page would give them."""

from __future__ import annotations

import base64
import json
import re
import subprocess
import sys
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from trainlog.charts.ink import config

WIDTH = 460
"""Pixels of a chart that would take the width of its place."""

TOGETHER = frozenset({"hconcat", "vconcat", "concat"})
"""Specs of several charts, each with a width of its own."""

UNSEEN = frozenset({"pointer"})
"""Styles of what only follows a pointer."""

_COORDINATES = re.compile(r' (?:d|transform|points|x|y|x1|x2|y1|y2|width|height)="[^"]*"')
_NAME = re.compile(r'\bid="([^"]*)"')
_ROLE = re.compile(r' (?:role|aria-\w+|pointer-events)="[^"]*"')
_SHAPE = re.compile(r"<path [^>]*>")
_WIDTH = re.compile(r'<svg [^>]*?width="([\d.]+)"')
_LONG = re.compile(r"(\d\.\d\d)\d+")


@dataclass(frozen=True)
class Picture:
    """One chart as text of an SVG file and as bytes of a PNG file."""

    svg: str = field(repr=False)
    png: bytes = field(repr=False)

    @property
    def width(self) -> float:
        """Width in pixels of the SVG."""
        found = _WIDTH.search(self.svg)
        assert found, "a drawing says how wide it is"
        return float(found[1])


def draw(spec: Mapping[str, Any], *, width: int = WIDTH, scale: float = 2) -> Picture:
    """Draw a spec.

    Parameters
    ----------
    spec : mapping
        Vega-Lite specification with style names and no colours.
    width : int
        Pixels of a chart that would take the width of its place.
    scale : float
        Pixels of the PNG a pixel of the SVG.
    """
    import vl_convert  # noqa: PLC0415  (30 MB and 250 MB of work that only pictures need)

    drawn = _still(spec) | {"config": config()}
    if drawn.get("width", "container") == "container" and not TOGETHER & drawn.keys():
        drawn["width"] = width
    svg = _shorter(vl_convert.vegalite_to_svg(drawn, allowed_base_urls=[]))
    return Picture(svg, vl_convert.svg_to_png(svg, scale=scale))


def draw_apart(specs: Mapping[str, Mapping[str, Any]], *, width: int = WIDTH) -> dict[str, Picture]:
    """Draw many specs in a process of its own, which gives back its memory when it ends.

    Raises
    ------
    subprocess.CalledProcessError
        If one of them cannot be drawn.
    """
    if not specs:
        return {}
    asked = json.dumps({"width": width, "specs": dict(specs)})
    done = subprocess.run(
        [sys.executable, "-m", "trainlog.charts.picture"],
        input=asked.encode(),
        stdout=subprocess.PIPE,
        cwd=Path(__file__).parents[2],
        check=True,
    )
    return {
        name: Picture(made["svg"], base64.b64decode(made["png"]))
        for name, made in json.loads(done.stdout).items()
    }


def save_picture(spec: dict[str, Any], path: Path) -> None:
    """Draw a spec into an SVG or PNG file, by the ending of its name.

    Raises
    ------
    ValueError
        If the name ends otherwise.
    """
    if path.suffix not in {".svg", ".png"}:
        raise ValueError(f"a picture is .svg or .png, not {path.suffix or path.name!r}")
    picture = draw(spec)
    path.write_bytes(picture.png if path.suffix == ".png" else picture.svg.encode())


def _still(spec: Mapping[str, Any]) -> dict[str, Any]:
    """Spec without what only a pointer brings out."""
    kept = dict(spec)
    for together in ("layer", *sorted(TOGETHER)):
        if together in kept:
            kept[together] = [_still(one) for one in kept[together] if not _is_unseen(one)]
    kept.pop("params", None)
    if "encoding" in kept:
        kept["encoding"] = {name: channel for name, channel in kept["encoding"].items() if name != "tooltip"}
    return kept


def _is_unseen(layer: Mapping[str, Any]) -> bool:
    mark = layer.get("mark")
    return isinstance(mark, Mapping) and mark.get("style") in UNSEEN


def _shorter(svg: str) -> str:
    """The same to any eye at a fraction of the size.

    Coordinates go to a hundredth of a pixel; and a shape without an edge has its fill transparent, not itself
    as a group, which in PDF is an object for each of a thousand cells. Roles are left out: a drawing is one
    image to whoever is read to, and what it shows is for its place to say.
    """
    for place, name in enumerate(dict.fromkeys(_NAME.findall(svg)), 1):
        # The library counts on from drawing to drawing; the same spec is to give the same bytes.
        svg = svg.replace(f'id="{name}"', f'id="part-{place}"')
        svg = svg.replace(f"url(#{name})", f"url(#part-{place})")
    svg = _ROLE.sub("", svg).replace(' opacity="1"', "")
    rounded = _COORDINATES.sub(lambda found: _LONG.sub(r"\1", found[0]), svg)
    return _SHAPE.sub(lambda found: _transparent(found[0]), rounded)


def _transparent(shape: str) -> str:
    if ' fill="' in shape and ' stroke="' not in shape:
        return shape.replace(' opacity="', ' fill-opacity="')
    return shape


def _main() -> None:
    asked = json.load(sys.stdin)
    made = {name: draw(spec, width=asked["width"]) for name, spec in asked["specs"].items()}
    json.dump(
        {
            name: {"svg": picture.svg, "png": base64.b64encode(picture.png).decode()}
            for name, picture in made.items()
        },
        sys.stdout,
    )


if __name__ == "__main__":
    _main()
