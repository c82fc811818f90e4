import json

import altair as alt
import numpy as np
import pytest

from accuracy import charts
from accuracy.charts import FlaggedStretch, Level, SessionMark
from accuracy.core.agreement.agreement_charts import difference_plot, identity_density
from accuracy.core.agreement.regression_limits import regression_limits
from trainlog.charts.spec import rows, ticks

NAN = np.nan
SECONDS = np.arange(600)
REFERENCE = 130 + 20 * np.sin(SECONDS / 40)
TESTED = 0.9 * REFERENCE
FLAGGED = [
    FlaggedStretch("reference", 0, 9, "no reading"),
    FlaggedStretch("tested", 60, 120, "a spike"),
    FlaggedStretch("tested", 300, 301, "a spike"),
]
LEVELS = [Level("bias", -3.2, -4, -2.4), Level("lower limit", -11, -12, -10), Level("upper limit", 4.6)]


def overlay(**changes):
    given = {"reference": REFERENCE, "tested": TESTED, "flagged": FLAGGED} | changes
    return charts.overlay(**given)


def plot(**changes):
    points = difference_plot([(REFERENCE, TESTED)], epoch_seconds=5).as_dict()
    return charts.differences(points, LEVELS, epoch_seconds=5, **changes)


def density(reference=REFERENCE, tested=TESTED):
    return charts.identity_density(identity_density([(reference, tested)]).as_dict(), epoch_seconds=1)


def with_everything():
    return plot(
        sloped=regression_limits(REFERENCE, TESTED + SECONDS % 3),
        sessions=[SessionMark("2026-03-02", 124.24, -6.46)],
    )


EVERY_CHART = pytest.mark.parametrize("make", [overlay, plot, with_everything, density])


@EVERY_CHART
def test_it_is_a_valid_spec(make):
    alt.LayerChart.from_dict(make())


@EVERY_CHART
def test_marks_carry_a_style_and_no_colour(make):
    for layer in make()["layer"]:
        assert layer["mark"]["style"]
        assert not {"color", "stroke", "fill"} & set(layer["mark"])


@EVERY_CHART
def test_it_can_be_told_in_json_and_says_in_words_what_it_shows(make):
    spec = make()
    json.dumps(spec, allow_nan=False)
    assert "bpm" in spec["description"]


@EVERY_CHART
def test_every_layer_names_a_data_set_that_is_there(make):
    spec = make()
    assert {layer["data"]["name"] for layer in spec["layer"]} <= set(spec["datasets"])


def test_both_traces_are_drawn_by_minute_with_their_difference():
    drawn = overlay()["datasets"]["traces"]
    assert drawn[60] == {
        "minute": 1.0,
        "reference": round(REFERENCE[60], 1),
        "tested": round(TESTED[60], 1),
        "difference": round(TESTED[60] - REFERENCE[60], 1),
    }


def test_a_second_that_is_not_common_stays_a_gap():
    both = np.where(SECONDS == 5, NAN, REFERENCE)
    assert overlay(reference=both)["datasets"]["traces"][5]["reference"] is None


def test_stretches_of_one_reason_share_a_lane_and_the_lanes_are_named():
    data = overlay()["datasets"]
    assert [row["words"] for row in data["lanes"]] == ["reference: no reading", "tested: a spike"]
    assert [(row["begins"], row["ends"]) for row in data["flagged-tested"]] == [(1.0, 2.0), (5.0, 5.017)]
    assert len({row["top"] for row in data["flagged-tested"]}) == 1
    assert data["flagged-reference"][0]["top"] < data["flagged-tested"][0]["top"]


def test_the_words_of_a_lane_begin_where_its_first_stretch_does():
    lanes = overlay()["datasets"]["lanes"]

    assert [row["begins"] for row in lanes] == [0, 0.1]


def test_long_words_of_a_late_stretch_are_drawn_in_and_not_over_the_edge():
    late = overlay(flagged=[FlaggedStretch("tested", 580, 581, "a change faster than a heart makes")])
    (label,) = (layer for layer in late["layer"] if layer["mark"]["type"] == "text")

    (place,) = label["transform"]
    assert place["calculate"] == "max(min(datum.begins * width, width - datum.wide), 4)"
    assert late["datasets"]["lanes"][0]["wide"] > 200


def test_the_traces_stay_clear_of_the_lanes():
    bare, laned = overlay(flagged=[]), overlay()
    assert laned["height"] > bare["height"]

    def top(spec):
        return next(
            layer
            for layer in spec["layer"]
            if layer["mark"]["style"] == "tested" and layer["mark"]["type"] == "line"
        )["encoding"]["y"]["scale"]["domain"][1]

    assert top(laned) > top(bare) >= REFERENCE.max()


def test_without_flags_nothing_is_shaded():
    styles = {layer["mark"]["style"] for layer in overlay(flagged=[])["layer"]}
    assert styles == {"reference", "tested", "pointer"}


def test_each_epoch_is_a_point_at_its_mean_and_difference():
    drawn = plot()["datasets"]["epochs"]
    x, y = REFERENCE[:5].mean(), TESTED[:5].mean()
    assert drawn[0] == {"mean": round((x + y) / 2, 1), "difference": round(y - x, 1)}
    assert len(drawn) == 120


def test_bias_and_limits_are_drawn_with_their_words_and_known_intervals():
    data = plot()["datasets"]
    assert [data[f"level-{place}"][0]["words"] for place in range(3)] == [
        "bias −3.2",
        "lower limit −11.0",
        "upper limit +4.6",
    ]
    assert data["intervals"] == [
        {"level": "bias", "low": -4, "high": -2.4},
        {"level": "lower limit", "low": -12, "high": -10},
    ]


def test_limits_that_change_with_the_rate_reach_over_the_rates_they_were_found_on():
    found = regression_limits(REFERENCE, TESTED + SECONDS % 3)
    data = plot(sloped=found)["datasets"]
    ends = np.array([found.lowest, found.highest])
    assert [row["mean"] for row in data["sloped-upper"]] == ends.round(1).tolist()
    assert [row["difference"] for row in data["sloped-bias"]] == found.at(ends)[1].round(2).tolist()


def test_a_session_is_a_mark_of_its_own():
    assert with_everything()["datasets"]["sessions"] == [
        {"day": "2026-03-02", "mean": 124.2, "difference": -6.5}
    ]


def test_the_darkest_cell_is_the_one_with_most_time():
    drawn = density(np.array([100.0] * 90 + [140.0] * 3 + [150.0]), np.full(94, 120.0))["datasets"]["cells"]
    by_reference = {row["reference"]: row for row in drawn}
    assert (by_reference[100]["seconds"], by_reference[100]["ink"]) == (90, 1.0)
    assert by_reference[100]["ink"] > by_reference[140]["ink"] > by_reference[150]["ink"] > 0
    assert by_reference[100]["reference_words"] == "100–102"


def test_both_axes_of_the_density_have_the_same_range_and_the_line_runs_through_it():
    spec = density()
    axes = spec["layer"][0]["encoding"]
    assert axes["x"]["scale"]["domain"] == axes["y"]["scale"]["domain"] == [90, 150]
    assert spec["datasets"]["identity"] == [
        {"reference": 90, "tested": 90},
        {"reference": 150, "tested": 150},
    ]


def test_one_second_is_a_density_too():
    assert density(np.array([100.0]), np.array([90.0]))["datasets"]["cells"][0]["ink"] == 1.0


def test_what_is_not_a_number_becomes_null():
    assert rows(a=np.array([1.0, NAN]), b=["x", "y"]) == [{"a": 1.0, "b": "x"}, {"a": None, "b": "y"}]


@pytest.mark.parametrize(("low", "high"), [(83.2, 181.0), (118.0, 124.0), (60, 61)])
def test_ticks_are_whole_lie_inside_and_are_few(low, high):
    found = ticks(low, high)
    assert all(low <= tick <= high for tick in found)
    assert 1 <= len(found) <= 7
