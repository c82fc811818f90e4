import subprocess
import sys
from datetime import date

import altair as alt
import pytest

from accuracy.charts import Band, PairPoint, pair_ratios

POINTS = [
    PairPoint(date(2026, 3, 2), 0.88, usable=True),
    PairPoint(date(2026, 3, 9), 0.95, usable=True),
    PairPoint(date(2026, 3, 16), 0.60, usable=False),
]
BAND = Band(low=0.81, median=0.9, high=0.99)


def layers(spec):
    return {layer["mark"]["style"]: layer for layer in spec["layer"]}


def rows(spec, style):
    layer = layers(spec)[style]
    return spec["datasets"][layer.get("data", spec.get("data"))["name"]]


def test_each_pair_is_drawn_at_its_ratio_and_day():
    drawn = rows(pair_ratios(POINTS, BAND), "tested")
    assert [(row["day"], row["ratio"], row["difference"]) for row in drawn] == [
        ("2026-03-02", 0.88, "−12%"),
        ("2026-03-09", 0.95, "−5%"),
    ]


def test_a_pair_set_aside_looks_different_without_colour():
    spec = pair_ratios(POINTS, BAND)
    assert [row["ratio"] for row in rows(spec, "unknown")] == [0.6]
    assert layers(spec)["unknown"]["mark"]["shape"] != layers(spec)["tested"]["mark"]["shape"]


def test_the_band_is_what_one_further_session_may_read():
    assert rows(pair_ratios(POINTS, BAND), "corrected-band") == [{"low": 0.81, "ratio": 0.9, "high": 0.99}]


def test_before_anything_is_learned_there_is_no_band():
    assert "corrected-band" not in layers(pair_ratios(POINTS, None))


@pytest.mark.parametrize("points", [POINTS, POINTS[:1]])
def test_the_scale_is_logarithmic_and_holds_every_point_and_equality(points):
    scale = layers(pair_ratios(points, BAND))["tested"]["encoding"]["y"]["scale"]
    assert scale["type"] == "log"
    low, high = scale["domain"]
    assert low < min(point.tested_over_reference for point in points)
    assert high > 1


def test_marks_carry_no_colour():
    spec = pair_ratios(POINTS, BAND)
    assert not any({"color", "stroke", "fill"} & set(layer["mark"]) for layer in spec["layer"])


@pytest.mark.parametrize("band", [None, BAND])
def test_it_is_a_valid_spec(band):
    alt.LayerChart.from_dict(pair_ratios(POINTS, band))


def test_charts_need_no_library_for_building_charts():
    script = "import sys, accuracy.charts\nprint(*sys.modules)"
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert not {"altair", "pandas"} & set(done.stdout.split())
