import altair as alt
import numpy as np

from accuracy.charts import likely_trace

SECONDS = 1200
TESTED = 130 + 10 * np.sin(np.arange(SECONDS) / 60)


def spec_of(tested=TESTED):
    return likely_trace(tested, tested - 6, tested + 4, tested + 14)


def styles(spec):
    return [one["mark"]["style"] for one in spec["layer"]]


def test_the_band_lies_under_its_middle_and_under_the_tested_trace():
    assert styles(spec_of())[:3] == ["corrected-band", "corrected", "tested"]


def test_each_second_is_drawn_with_its_bounds():
    row = spec_of()["datasets"]["traces"][60]
    assert row["minute"] == 1
    assert [round(row[name] - row["tested"], 1) for name in ("low", "middle", "high")] == [-6, 4, 14]


def test_nothing_is_drawn_where_nothing_was_recorded():
    holed = TESTED.copy()
    holed[300:400] = np.nan
    row = spec_of(holed)["datasets"]["traces"][350]
    assert row["tested"] is None
    assert row["low"] is None


def test_the_axis_holds_the_whole_band():
    spec = spec_of()
    low, high = spec["layer"][0]["encoding"]["y"]["scale"]["domain"]
    assert low < (TESTED - 6).min()
    assert high > (TESTED + 14).max()


def test_every_layer_shares_one_scale():
    scales = [one["encoding"]["y"]["scale"] for one in spec_of()["layer"] if "y" in one["encoding"]]
    assert all(scale == scales[0] for scale in scales)


def test_a_long_part_is_drawn_in_few_points():
    hours = np.tile(TESTED, 12)
    assert len(likely_trace(hours, hours, hours, hours)["datasets"]["traces"]) <= 1800


def test_marks_carry_no_colour():
    assert not any({"color", "stroke", "fill"} & set(one["mark"]) for one in spec_of()["layer"])


def test_the_spec_is_valid():
    alt.LayerChart.from_dict(spec_of())
