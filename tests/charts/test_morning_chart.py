from datetime import date, timedelta

import altair as alt
import numpy as np

from trainlog.charts.mornings import mornings
from trainlog.load.hrv import UsualBand

DAYS = [date(2026, 3, 1) + timedelta(days=i) for i in range(4)]
VALUES = np.array([50.0, np.nan, 52.0, 54.0])
WEEKLY = np.array([np.nan, np.nan, np.nan, 52.0])
BAND = UsualBand(49.0, 51.0, 53.0, 20)


def drawn(band=BAND):
    return mornings("resting rate, bpm", DAYS, VALUES, WEEKLY, band)


def test_the_spec_is_sound():
    alt.Chart.from_dict(drawn(), validate=True)


def test_mornings_without_a_value_stay_gaps():
    assert [row["value"] for row in drawn()["datasets"]["mornings"]] == [50, None, 52, 54]
    assert [row["weekly"] for row in drawn()["datasets"]["mornings"]] == [None, None, None, 52]


def test_the_band_lies_behind_the_mornings_and_is_left_out_where_nothing_is_usual():
    styles = [layer["mark"]["style"] for layer in drawn()["layer"]]
    assert styles == ["usual-band", "weekly", "morning"]
    assert [layer["mark"]["style"] for layer in drawn(None)["layer"]] == styles[1:]


def test_the_description_says_the_band_in_words():
    assert "usual band from 49.00 to 53.00" in drawn()["description"]
