"""The inks of both themes: contrast of text and drawings, in grey and for eyes that tell fewer colours apart.

Relative luminance and contrast ratio: Web Content Accessibility Guidelines 2.2, "relative luminance" and
"contrast ratio". Lightness: CIE 1976 L*. Dichromats: Viénot F, Brettel H, Mollon JD (1999), Color Research
and Application 24:243-252, whose matrices in linear RGB are from memory; that greys stay grey and that each
loses one dimension is checked here.
"""

from __future__ import annotations

import re
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest

from trainlog.charts.ink import styles
from trainlog.trace import FloatArray

STYLES = Path("trainlog/static/trainlog")
TEXT, GRAPHIC = 4.5, 3.0
"""Contrast ratios that WCAG 2.2 asks for: 1.4.3 of text, 1.4.11 of what a drawing's meaning rests on."""

LEAST_STEP = 20
"""Difference in L* by which two lines in one drawing are told apart in grey (our choice)."""

# Rows give linear R, G and B as a dichromat's eye takes them, Viénot et al. 1999, from memory.
DICHROMATS = {
    "protanope": [[0.11238, 0.88762, 0], [0.11238, 0.88762, 0], [0.00401, -0.00401, 1]],
    "deuteranope": [[0.29275, 0.70725, 0], [0.29275, 0.70725, 0], [-0.02234, 0.02234, 1]],
}

FIXED = ("reference", "tested", "corrected", "unknown")
"""Inks with a fixed meaning."""


def inks(theme: str) -> dict[str, str]:
    """Custom properties of a theme, by name, with those of the light one where the dark has no other."""
    found: dict[str, str] = {}
    for name in ("base.css", "trend.css"):
        light, _, dark = (STYLES / name).read_text().partition("prefers-color-scheme: dark")
        for part in (light, dark)[: 2 if theme == "dark" else 1]:
            found |= dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6});", part))
    return found


def linear(ink: str) -> FloatArray:
    """Linear light of an sRGB colour, as WCAG defines it."""
    channels = np.array([int(ink[at : at + 2], 16) for at in (1, 3, 5)]) / 255
    return np.where(channels <= 0.04045, channels / 12.92, ((channels + 0.055) / 1.055) ** 2.4)


def luminance(light: FloatArray) -> float:
    return float(np.clip(light, 0, 1) @ [0.2126, 0.7152, 0.0722])


def contrast(one: FloatArray, other: FloatArray) -> float:
    darker, lighter = sorted((luminance(one), luminance(other)))
    return (lighter + 0.05) / (darker + 0.05)


def lightness(ink: str) -> float:
    y = luminance(linear(ink))
    return float(116 * np.cbrt(y) - 16 if y > (6 / 29) ** 3 else y * (29 / 3) ** 3)


def test_black_on_white_has_the_contrast_that_the_guidelines_state():
    assert contrast(linear("#000000"), linear("#ffffff")) == pytest.approx(21)


def test_grey_777777_on_white_is_just_too_little_for_text():
    """4.48, the usual example of a grey that fails (WebAIM and others, from memory)."""
    assert contrast(linear("#777777"), linear("#ffffff")) == pytest.approx(4.48, abs=0.005)


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize("ground", ["ground", "raised", "accent-ground"])
@pytest.mark.parametrize("ink", ["ink", "quiet", "accent", "grave"])
def test_text_is_read_on_every_ground(theme, ground, ink):
    found = inks(theme)
    assert contrast(linear(found[ink]), linear(found[ground])) >= TEXT


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize("ink", [*FIXED, "rule", "quick", "slow"])
def test_what_a_drawing_means_is_seen_on_its_ground(theme, ink):
    found = inks(theme)
    assert contrast(linear(found[ink]), linear(found["ground"])) >= GRAPHIC


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize("tick", ["corrected", "ink", "tested"])
def test_a_tick_is_seen_on_the_band_it_stands_on(theme, tick):
    found = inks(theme)
    # What the sensor said is a shorter tick, and stands beside it as a figure: less will do.
    enough = 1.8 if tick == "tested" else GRAPHIC
    assert contrast(linear(found[tick]), linear(found["band"])) >= enough


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_the_reference_and_the_tested_trace_differ_in_grey(theme):
    found = inks(theme)
    assert abs(lightness(found["reference"]) - lightness(found["tested"])) >= LEAST_STEP


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_the_bands_of_intensity_go_one_way_in_grey(theme):
    found = inks(theme)
    steps = np.diff([lightness(found[f"intensity-{band}"]) for band in range(1, 6)])
    assert (steps < -9).all()


def test_marks_that_are_alike_in_grey_differ_in_shape():
    """Each basis has a drawing of its own; no two are the same path in another colour."""
    sprite = Path("trainlog/templates/_sprite.html").read_text()
    drawings = {
        name: re.sub(r'class="[^"]*"', "", drawing)
        for name, drawing in re.findall(r'<symbol id="mark-(\w+)"[^>]*>(.*?)</symbol>', sprite)
    }
    bases = ("measured", "accepted", "corrected", "combined", "reported", "uncorrected", "missing")
    assert len({drawings[basis] for basis in bases}) == len(bases)


def test_lines_that_are_alike_in_grey_differ_in_dashes():
    dashed = {name for name, marks in styles().items() if "strokeDash" in marks}
    assert {"slow", "limit"} <= dashed
    assert not {"quick", "bias"} & dashed


def test_what_is_unknown_is_hatched_and_not_only_grey():
    parts = (STYLES / "parts.css").read_text()
    for basis in ("unknown", "uncorrected", "missing"):
        assert re.search(rf"\.interval\.{basis} \.band[^}}]*url\(#hatch\)", parts)


@pytest.mark.parametrize("kind", DICHROMATS)
def test_a_dichromats_eye_leaves_grey_as_it_is_and_loses_one_dimension(kind):
    matrix = np.array(DICHROMATS[kind])
    assert matrix @ np.ones(3) == pytest.approx(np.ones(3))
    assert np.linalg.matrix_rank(matrix, tol=1e-6) == 2


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize("kind", DICHROMATS)
@pytest.mark.parametrize(("one", "other"), list(combinations(("reference", "tested", "corrected"), 2)))
def test_inks_of_one_drawing_are_told_apart_by_every_eye(theme, kind, one, other):
    """By lightness, or by what is left of their colour: 0.1 in linear light between yellow and blue."""
    found, eye = inks(theme), np.array(DICHROMATS[kind])
    seen = [np.clip(eye @ linear(found[ink]), 0, 1) for ink in (one, other)]
    in_hue = [light[2] - light[0] for light in seen]
    assert contrast(*seen) >= 1.5 or abs(in_hue[0] - in_hue[1]) >= 0.1
