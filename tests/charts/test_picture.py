"""Charts as files: the ink is that of the pages, the text has a fixed font, nothing follows a pointer."""

import json
import re
import subprocess

import pytest

from tests.accuracy.report.documents import cloud, figure
from trainlog.charts import ink
from trainlog.charts.picture import draw, draw_apart, save_picture

STYLE = re.compile(r'"style": "([^"]+)"')


@pytest.fixture(scope="module")
def overlaid():
    return draw(figure().spec, width=620)


def luminance(colour):
    """Relative luminance of WCAG 2.2."""
    parts = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one, other):
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_a_style_looks_in_a_file_as_on_the_light_page():
    light, *_ = (ink.STATIC / "base.css").read_text().partition("prefers-color-scheme: dark")
    assert f"--tested: {ink.styles()['tested']['color']};" in light
    assert ink.styles()["limit"]["strokeDash"] == [6, 3]


def test_the_pages_draw_with_the_same_table():
    script = (ink.STATIC / "charts.js").read_text()
    assert 'import { STYLES } from "./ink.js";' in script
    assert "Object.entries(STYLES)" in script


def test_every_style_that_a_chart_of_ours_names_has_ink():
    named = set()
    for chart in [
        *ink.STATIC.parents[1].glob("charts/*.py"),
        *ink.STATIC.parents[2].glob("accuracy/charts/*.py"),
    ]:
        named |= set(STYLE.findall(chart.read_text()))
    named |= set(STYLE.findall(json.dumps([figure().spec, cloud().spec])))
    assert {"day-load", "density", "reference"} <= named
    assert named <= set(ink.styles())


def test_no_colour_is_left_to_be_looked_up():
    assert "--" not in json.dumps(ink.styles())


@pytest.mark.parametrize("style", ["reference", "tested", "corrected", "unknown"])
def test_lines_stand_out_from_white_paper_in_grey(style):
    assert contrast(ink.styles()[style]["color"], ink.PAPER) >= 3


def test_reference_and_tested_are_told_apart_in_grey():
    reference, tested = (ink.styles()[style]["color"] for style in ("reference", "tested"))
    assert contrast(reference, tested) >= 3


def test_a_line_has_the_width_of_its_style():
    svg = draw(cloud().spec).svg
    width = ink.styles()["identity-edge"]["strokeWidth"]
    assert f'stroke="{ink.PAPER}" stroke-width="{width}"' in svg


def test_text_of_a_drawing_names_one_fixed_font(overlaid):
    assert set(re.findall(r'font-family="([^"]*)"', overlaid.svg)) == {ink.FONTS}


def test_a_drawing_is_as_wide_as_it_is_asked_to_be(overlaid):
    assert 620 < overlaid.width < 700


def test_the_png_has_two_pixels_a_point(overlaid):
    assert overlaid.png.startswith(b"\x89PNG")
    assert int.from_bytes(overlaid.png[16:20], "big") == pytest.approx(2 * overlaid.width, abs=2)


def test_what_follows_a_pointer_is_not_in_a_file():
    spec = figure().spec
    pointers = [layer for layer in spec["layer"] if layer["mark"]["style"] == "pointer"]
    without = spec | {"layer": [layer for layer in spec["layer"] if layer not in pointers]}
    assert pointers
    assert draw(spec).svg == draw(without).svg


def test_coordinates_go_to_a_hundredth_of_a_pixel(overlaid):
    drawn = "".join(re.findall(r' (?:d|transform)="([^"]*)"', overlaid.svg))
    assert not re.search(r"\.\d{3}", drawn)


def test_cells_are_see_through_without_a_group_each():
    cells = [
        shape for shape in re.findall(r"<path [^>]*>", draw(cloud().spec).svg) if "fill-opacity" in shape
    ]
    assert len(cells) > 100
    assert not any(" opacity=" in shape for shape in cells)


def test_a_drawing_made_apart_is_the_same(overlaid):
    apart = draw_apart({"one": figure().spec}, width=620)
    assert apart == {"one": overlaid}


def test_nothing_is_started_for_no_drawing(monkeypatch):
    monkeypatch.setattr(subprocess, "run", None)
    assert draw_apart({}) == {}


def test_a_chart_that_cannot_be_drawn_is_said_to_be_one():
    with pytest.raises(subprocess.CalledProcessError):
        draw_apart({"none": {"mark": "no such mark"}})


def test_a_drawing_fetches_nothing():
    fetching = {"data": {"url": "https://example.org/data.json"}, "mark": "point", "encoding": {}}
    with pytest.raises(ValueError, match="External data url not allowed"):
        draw(fetching)


@pytest.mark.parametrize(("name", "beginning"), [("a.svg", b"<svg"), ("a.png", b"\x89PNG")])
def test_a_picture_is_what_its_name_ends_with(tmp_path, name, beginning):
    save_picture(cloud().spec, tmp_path / name)
    assert (tmp_path / name).read_bytes().startswith(beginning)


def test_a_picture_of_another_ending_is_refused(tmp_path):
    with pytest.raises(ValueError, match=r"not '\.pdf'"):
        save_picture(cloud().spec, tmp_path / "a.pdf")
