from datetime import date, timedelta

import altair as alt
import numpy as np
import pytest

from trainlog.charts.trend import loads, responses

DAYS = [date(2026, 3, 2) + timedelta(days=i) for i in range(4)]
FIGURE = np.array([[1.0, 2.0, 3.0]] * 4)


def drawn(over=1):
    every = [DAYS[0] + timedelta(days=over * i) for i in range(4)]
    bars = {"load": FIGURE} | ({"total": 7 * FIGURE} if over == 7 else {})
    return loads("training impulse", every, bars, {"acute": 2 * FIGURE, "chronic": 3 * FIGURE}, over=over)


def small():
    return responses(DAYS, {"slow": 9 * FIGURE, "fast": 4 * FIGURE, "net_response": 5 * FIGURE}, over=1)


@pytest.mark.parametrize("spec", [drawn(), drawn(7), small()], ids=["days", "weeks", "responses"])
def test_the_specs_are_sound(spec):
    alt.Chart.from_dict(spec, validate=True)


@pytest.mark.parametrize("spec", [drawn(), drawn(7), small()], ids=["days", "weeks", "responses"])
def test_the_days_shown_are_said_once_by_a_layer_with_one_end(spec):
    across = [layer["encoding"] for layer in spec["layer"]]
    (said,) = [encoding for encoding in across if "domain" in encoding["x"]["scale"]]
    assert "x2" not in said


def test_bars_lie_under_the_averages_and_each_line_on_its_band():
    styles = [layer["mark"]["style"] for layer in drawn()["layer"]]
    assert styles == ["day-load", "day-interval", "slow-band", "slow", "quick-band", "quick", "pointer"]


def test_every_figure_has_low_median_and_high():
    row = drawn()["datasets"]["days"][0]
    assert [row[f"acute_{end}"] for end in ("low", "median", "high")] == [2, 4, 6]
    assert (row["day"], row["told"]) == ("2026-03-02", "Mon 2 Mar 2026")


def test_weeks_tell_their_whole_load():
    spec = drawn(7)
    assert spec["datasets"]["days"][0]["total_median"] == 14
    told = [one["field"] for one in spec["layer"][-1]["encoding"]["tooltip"]]
    assert "total_median" in told
    assert "load_median" not in told


def test_what_is_not_defined_stays_a_gap():
    acute = FIGURE.copy()
    acute[1] = np.nan
    spec = loads("training impulse", DAYS, {"load": FIGURE}, {"acute": acute, "chronic": FIGURE}, over=1)
    assert spec["datasets"]["days"][1]["acute_median"] is None


def test_the_description_says_in_words_where_the_averages_end():
    assert "At the end acute load is 4 (2 to 6) and chronic load 6 (3 to 9)." in drawn()["description"]
    assert "slow 18 (9 to 27), fast 8 (4 to 12), difference 10 (5 to 15)" in small()["description"]
