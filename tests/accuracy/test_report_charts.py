"""Charts of reports: values in their specifications, and that they need no colour and no day."""

import altair as alt
import numpy as np
import pytest

from accuracy import charts
from accuracy.charts import Band, ConditionBias, LockOn, SessionLoad, SessionMark

CONDITIONS = [ConditionBias("run (6)", -1.25, -2.4, 0.1, [-3.0, 0.5]), ConditionBias("row (1)", -2.7)]
LOADS = [SessionLoad(1, "session 1", 0.8, 0.97), SessionLoad(2, "session 2", 1.05, None)]
STARTS = [LockOn("session 1", "run", 90.0), LockOn("session 2", "row", None), LockOn("session 3", "run", 0.0)]


def biases():
    return charts.biases(CONDITIONS)


def loads(**changes):
    return charts.session_loads(LOADS, **changes)


def with_limits():
    return loads(band=Band(0.7, 0.93, 1.2))


def lock_on():
    return charts.lock_on(STARTS)


def nobody_locks_on():
    return charts.lock_on([LockOn("session 1", "run", None)])


EVERY_CHART = pytest.mark.parametrize("make", [biases, loads, with_limits, lock_on, nobody_locks_on])


def drawn(spec, style, mark="point"):
    found = next(
        one for one in spec["layer"] if one["mark"]["style"] == style and one["mark"]["type"] == mark
    )
    return spec["datasets"][found["data"]["name"]]


@EVERY_CHART
def test_it_is_a_valid_spec(make):
    alt.LayerChart.from_dict(make())


@EVERY_CHART
def test_marks_carry_a_style_and_no_colour(make):
    for layer in make()["layer"]:
        assert layer["mark"]["style"]
        assert not {"color", "stroke", "fill"} & set(layer["mark"])


def test_each_condition_has_its_bias_and_where_known_its_interval():
    spec = biases()
    assert drawn(spec, "session") == [{"name": "run (6)", "bias": -1.25}, {"name": "row (1)", "bias": -2.7}]
    assert drawn(spec, "bias", "rule") == [{"name": "run (6)", "low": -2.4, "high": 0.1}]
    assert [row["bias"] for row in drawn(spec, "epoch")] == [-3.0, 0.5]


def test_each_session_stands_at_its_ratio_and_leads_to_the_corrected_one():
    spec = loads()
    assert [(row["place"], row["ratio"]) for row in drawn(spec, "tested")] == [(1, 0.8), (2, 1.05)]
    assert [(row["place"], row["ratio"], row["from"]) for row in drawn(spec, "corrected")] == [(1, 0.97, 0.8)]


def test_a_corrected_load_differs_in_shape_and_filling_too():
    marks = {layer["mark"]["style"]: layer["mark"] for layer in loads()["layer"]}
    assert marks["tested"]["shape"] != marks["corrected"]["shape"]
    assert marks["tested"]["filled"] != marks["corrected"]["filled"]


def test_the_axis_holds_ratios_limits_and_equality():
    spec = with_limits()
    low, high = next(one for one in spec["layer"] if one["mark"]["style"] == "tested")["encoding"]["y"][
        "scale"
    ]["domain"]
    assert low < 0.7
    assert high > 1.2
    assert [row["ratio"] for row in drawn(spec, "limit", "rule")] == [0.7, 1.2]


def test_minutes_until_locked_on_and_those_that_never_did():
    spec = lock_on()
    assert [(row["activity"], row["minute"]) for row in drawn(spec, "session")] == [
        ("run", 1.5),
        ("run", 0.0),
    ]
    assert [row["activity"] for row in drawn(spec, "unknown")] == ["row"]


def test_an_overlay_for_paper_answers_no_pointer_and_is_thinned():
    rate = 130 + 20 * np.sin(np.arange(4000) / 40)
    spec = charts.overlay(rate, rate - 5, [], most_points=300, with_pointer=False)
    assert len(spec["datasets"]["traces"]) <= 300
    assert not any("params" in layer for layer in spec["layer"])


def test_a_session_without_a_day_goes_by_its_name():
    spec = charts.differences(
        {"mean_bpm": [120.0], "difference_bpm": [-2.0]},
        [],
        sessions=[SessionMark("", 120.0, -2.0, "session 3")],
        epoch_seconds=5,
    )
    assert drawn(spec, "session") == [{"name": "session 3", "mean": 120.0, "difference": -2.0}]
