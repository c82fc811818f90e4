import subprocess
import sys
from dataclasses import replace

import altair as alt
import numpy as np
import pytest

from trainlog.charts import thinning
from trainlog.charts import traces as charts
from trainlog.charts.lanes import LANE_HEIGHT, FlaggedStretch
from trainlog.charts.traces import LikelyBand, PartStretch, TraceLine

NAN = np.nan


def rows(spec, layer=0):
    data = spec["layer"][layer].get("data", spec.get("data"))
    return spec["datasets"][data["name"]]


def trace(seconds=600, *, role="tested", name="wrist", bpm=140.0):
    return TraceLine(name, role, np.full(seconds, bpm))


def test_every_second_of_a_short_trace_is_drawn():
    spec = charts.traces([trace(600)], [])
    assert len(rows(spec)) == 600
    assert rows(spec)[60] == {"minute": 1.0, "t0": 140.0}


def test_a_long_trace_is_drawn_in_means():
    values = np.tile([100.0, 150.0, 200.0], 3600)
    spec = charts.traces([TraceLine("wrist", "tested", values)], [])
    assert len(rows(spec)) <= charts.MOST_DRAWN
    assert {row["t0"] for row in rows(spec)} == {150.0}


def test_a_gap_stays_a_gap():
    values = np.full(100, 120.0)
    values[40:60] = NAN
    drawn = rows(charts.traces([TraceLine("wrist", "tested", values)], []))
    assert [row["t0"] for row in drawn[39:61]] == [120.0, *[None] * 20, 120.0]


def test_a_mean_of_some_known_seconds_is_theirs():
    assert thinning.means_of(np.array([100.0, NAN, NAN, NAN, 80.0]), 2).tolist()[0] == 100.0
    assert np.isnan(thinning.means_of(np.array([100.0, NAN, NAN, NAN, 80.0]), 2)[1])
    assert thinning.means_of(np.array([100.0, NAN, NAN, NAN, 80.0]), 2)[2] == 80.0


def test_marks_carry_a_role_and_no_colour():
    spec = charts.traces([trace(role="reference", name="strap"), trace(role="tested")], [])
    marks = [layer["mark"] for layer in spec["layer"]]
    assert [mark["style"] for mark in marks[:2]] == ["reference", "tested"]
    assert not any({"color", "stroke", "fill"} & set(mark) for mark in marks)
    assert "config" not in spec


def test_two_tested_sensors_differ_without_colour():
    spec = charts.traces([trace(name="left"), trace(name="right")], [])
    assert spec["layer"][0]["mark"]["strokeDash"] != spec["layer"][1]["mark"]["strokeDash"]


def test_the_first_trace_of_each_role_is_solid():
    solid, dashed = thinning.DASHES[:2]
    assert charts.dashes(["reference", "tested", "tested", "reference"]) == [solid, solid, dashed, dashed]


def test_parts_are_named_and_bounded():
    parts = [PartStretch("lifting", 0, 300), PartStretch("mixed intervals", 300, 600)]
    spec = charts.traces([trace()], parts)
    by_style = {layer["mark"]["style"]: index for index, layer in enumerate(spec["layer"])}
    assert [row["minute"] for row in rows(spec, by_style["boundary"])] == [5.0]
    assert [row["activity"] for row in rows(spec, by_style["part-name"])] == ["lifting", "mixed intervals"]


def test_the_chosen_part_alone_is_shaded_and_none_is_at_first():
    spec = charts.traces([trace()], [PartStretch("lifting", 0, 300), PartStretch("row", 300, 600)])
    shade = next(layer for layer in spec["layer"] if layer["mark"]["style"] == "chosen-part")
    assert shade["encoding"]["opacity"]["condition"]["test"] == "datum.place === chosen"
    assert [row["place"] for row in spec["datasets"]["parts"]] == [0, 1]
    assert spec["params"] == [{"name": "chosen", "value": -1}]


def test_pointing_has_fewer_places_than_the_lines_have_points():
    spec = charts.traces([trace(1200)], [])
    pointed = spec["datasets"]["pointed"]
    assert len(pointed) <= charts.MOST_POINTED < len(rows(spec))
    assert pointed[1] == rows(spec)[3]


def test_time_zooms_and_the_rate_does_not():
    zoom = next(one for one in charts.traces([trace()], [])["layer"][-1]["params"] if one["name"] == "zoom")
    assert (zoom["bind"], zoom["select"]["encodings"]) == ("scales", ["x"])


def test_the_wheel_alone_scrolls_the_page():
    zoom = next(one for one in charts.traces([trace()], [])["layer"][-1]["params"] if one["name"] == "zoom")
    assert "shiftKey" in zoom["select"]["zoom"]


def band(around=140.0, seconds=600):
    middle = np.full(seconds, around)
    middle[300:] = NAN
    return LikelyBand(middle - 10, middle, middle + 10)


def test_the_band_lies_under_its_middle_and_under_the_traces():
    styles = [layer["mark"]["style"] for layer in charts.traces([trace()], [], band())["layer"]]
    assert styles == ["corrected-band", "corrected", "tested", "pointer"]


def test_the_band_ends_where_nothing_is_said_to_be_likely():
    drawn = rows(charts.traces([trace()], [], band()))
    assert (drawn[0]["low"], drawn[0]["middle"], drawn[0]["high"]) == (130.0, 140.0, 150.0)
    assert drawn[400]["middle"] is None


def test_pointing_tells_the_range_of_what_is_likely():
    told = charts.traces([trace(name="wrist")], [], band())["layer"][-1]["encoding"]["tooltip"]
    titles = ["minute", "wrist, bpm", "most likely, bpm", "likely from, bpm", "likely to, bpm"]
    assert [one["title"] for one in told] == titles


def test_the_axis_holds_the_band_and_stays_clear_of_the_lanes():
    flagged = [FlaggedStretch("tested", 0, 60, "stuck", "wrist")]
    spec = charts.traces([trace()], [], band(), flagged)
    low, top = spec["layer"][-2]["encoding"]["y"]["scale"]["domain"]
    assert low < 130
    pixels_above_the_band = spec["height"] * (top - 150) / (top - low)
    assert pixels_above_the_band > LANE_HEIGHT


def test_lanes_name_the_recording_and_lie_below_the_strip_of_parts():
    parts = [PartStretch("lifting", 0, 300), PartStretch("row", 300, 600)]
    spec = charts.traces([trace()], parts, None, [FlaggedStretch("tested", 60, 90, "stuck", "left wrist")])
    (lane,) = spec["datasets"]["lanes"]
    assert lane["words"] == "left wrist: stuck"
    assert lane["top"] >= charts.STRIP_HEIGHT
    (bar,) = spec["datasets"]["flagged-tested"]
    assert (bar["begins"], bar["ends"]) == (1, 1.5)


def test_the_only_recording_needs_no_name_in_its_lanes():
    spec = charts.traces([trace()], [], None, [FlaggedStretch("tested", 60, 90, "stuck", None)])
    assert [lane["words"] for lane in spec["datasets"]["lanes"]] == ["stuck"]


def test_a_workout_of_which_no_second_is_known_has_an_empty_chart():
    spec = charts.traces([TraceLine("wrist", "tested", np.full(60, NAN))], [])
    assert {row["t0"] for row in rows(spec)} == {None}


def test_the_fullest_chart_is_a_valid_spec():
    parts = [PartStretch("lifting", 0, 300), PartStretch("row", 300, 600)]
    flagged = [
        FlaggedStretch("tested", 60, 90, "stuck", "wrist"),
        FlaggedStretch("reference", 0, 9, "dry", "belt"),
    ]
    alt.LayerChart.from_dict(charts.traces([trace(), trace(role="reference")], parts, band(), flagged))


def test_no_builder_of_specs_is_loaded_for_a_page():
    script = "import sys, trainlog.charts.traces; print('altair' in sys.modules, 'pandas' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert done.stdout.split() == ["False", "False"]


def test_one_part_needs_no_boundary():
    styles = {
        layer["mark"]["style"] for layer in charts.traces([trace()], [PartStretch("run", 0, 600)])["layer"]
    }
    assert styles == {"tested", "pointer"}


def test_the_chart_says_in_words_what_it_shows():
    line = replace(trace(role="reference", name="strap"), heart_rate=np.array([100.0, np.nan, 140.0]))
    described = charts.traces([line], [])["description"]
    assert described.endswith("since the start: strap (reference), 120 on average, 100 to 140.")


def test_pointing_tells_every_trace_with_its_unit():
    spec = charts.traces([trace(name="strap"), trace(name="wrist")], [])
    told = spec["layer"][-1]["encoding"]["tooltip"]
    assert [one["title"] for one in told] == ["minute", "strap, bpm", "wrist, bpm"]


@pytest.mark.parametrize(("seconds", "step"), [(600, 1), (1800, 1), (1801, 2), (10800, 6)])
def test_a_point_stands_for_whole_seconds(seconds, step):
    assert thinning.seconds_a_point(seconds) == step
