import numpy as np
import pytest

from trainlog.charts import traces as charts
from trainlog.charts.thinning import MOST_POINTS
from trainlog.charts.traces import PartStretch, TraceLine

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
    values = np.tile([100.0, 200.0], 5400)
    spec = charts.traces([TraceLine("wrist", "tested", values)], [])
    assert len(rows(spec)) <= MOST_POINTS
    assert {row["t0"] for row in rows(spec)} == {150.0}


def test_a_gap_stays_a_gap():
    values = np.full(100, 120.0)
    values[40:60] = NAN
    drawn = rows(charts.traces([TraceLine("wrist", "tested", values)], []))
    assert [row["t0"] for row in drawn[39:61]] == [120.0, *[None] * 20, 120.0]


def test_a_mean_of_some_known_seconds_is_theirs():
    assert charts.means_of(np.array([100.0, NAN, NAN, NAN, 80.0]), 2).tolist()[0] == 100.0
    assert np.isnan(charts.means_of(np.array([100.0, NAN, NAN, NAN, 80.0]), 2)[1])
    assert charts.means_of(np.array([100.0, NAN, NAN, NAN, 80.0]), 2)[2] == 80.0


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
    solid, dashed = charts.DASHES[:2]
    assert charts.dashes(["reference", "tested", "tested", "reference"]) == [solid, solid, dashed, dashed]


def test_parts_are_named_and_bounded():
    parts = [PartStretch("lifting", 0, 300), PartStretch("mixed intervals", 300, 600)]
    spec = charts.traces([trace()], parts)
    by_style = {layer["mark"]["style"]: index for index, layer in enumerate(spec["layer"])}
    assert [row["minute"] for row in rows(spec, by_style["boundary"])] == [5.0]
    assert [row["activity"] for row in rows(spec, by_style["part-name"])] == ["lifting", "mixed intervals"]


def test_one_part_needs_no_boundary():
    styles = {
        layer["mark"]["style"] for layer in charts.traces([trace()], [PartStretch("run", 0, 600)])["layer"]
    }
    assert styles == {"tested", "pointer"}


def test_the_chart_says_in_words_what_it_shows():
    spec = charts.traces([trace(role="reference", name="strap")], [])
    assert spec["description"] == "Heart rate in bpm against minutes since the start: strap (reference)."


def test_pointing_tells_every_trace_with_its_unit():
    spec = charts.traces([trace(name="strap"), trace(name="wrist")], [])
    told = spec["layer"][-1]["encoding"]["tooltip"]
    assert [one["title"] for one in told] == ["minute", "strap, bpm", "wrist, bpm"]


@pytest.mark.parametrize(("seconds", "step"), [(600, 1), (1800, 1), (1801, 2), (10800, 6)])
def test_a_point_stands_for_whole_seconds(seconds, step):
    assert charts.seconds_a_point(seconds) == step
