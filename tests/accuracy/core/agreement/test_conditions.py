import math

import numpy as np
import pytest

from accuracy.core.agreement.conditions import (
    INTENSITY_BANDS,
    error_by_direction,
    error_by_intensity,
    load_difference,
)
from trainlog.load.trimp import MEN, trimp

BODY = {"resting": 50.0, "maximum": 150.0, "weighting": MEN}
"""A reserve of 100 bpm: the percent of it is the rate less 50."""


def by_name(rows):
    return {row.condition: row for row in rows}


@pytest.mark.parametrize(
    ("rate", "band"),
    [
        (79.9, "very light"),
        (80, "light"),
        (90, "moderate"),
        (109.9, "moderate"),
        (110, "vigorous"),
        (139.9, "vigorous"),
        (140, "near-maximal"),
        (160, "near-maximal"),
        (45, "very light"),
    ],
)
def test_a_band_of_reserve_holds_its_lower_edge_and_not_its_upper(rate, band):
    """ACSM's bands of heart-rate reserve, 30, 40, 60 and 90%, from memory; the edge rule is ours."""
    rows = by_name(error_by_intensity(np.full(10, rate), np.full(10, rate + 3), **BODY))
    assert {name for name, row in rows.items() if row.seconds} == {band}
    assert rows[band].bias == pytest.approx(3)


def test_the_reference_decides_the_band():
    rows = by_name(error_by_intensity(np.full(10, 145.0), np.full(10, 60.0), **BODY))
    assert rows["near-maximal"].seconds == 10
    assert rows["near-maximal"].mean_absolute_error == 85
    assert rows["near-maximal"].share_within_either == 0


def test_every_band_is_listed_and_an_empty_one_has_no_figures():
    rows = error_by_intensity(np.full(10, 100.0), np.full(10, 100.0), **BODY)
    assert [row.condition for row in rows] == [name for name, *_ in INTENSITY_BANDS]
    assert math.isnan(rows[0].bias)
    assert rows[0].as_dict()["bias"] is None


def test_a_late_sensor_reads_low_while_rising_and_high_while_falling():
    reference = 110 + 25 * np.sin(np.arange(1200) / 40)
    rows = by_name(error_by_direction(reference, np.roll(reference, 8), **BODY))
    assert rows["rising"].bias < -3
    assert rows["falling"].bias > 3
    assert abs(rows["level"].bias) < 1


def test_three_bpm_in_ten_seconds_are_rising():
    reference = np.where(np.arange(40) < 20, 100.0, 103.0)
    assert by_name(error_by_direction(reference, reference, **BODY))["rising"].seconds == 10
    reference = np.where(np.arange(40) < 20, 100.0, 102.9)
    assert by_name(error_by_direction(reference, reference, **BODY))["rising"].seconds == 0


def test_the_loads_of_both_sensors_differ_by_the_percent_that_their_impulses_do():
    rng = np.random.default_rng(0)
    reference, tested = rng.uniform(100, 140, (2, 500))
    expected = 100 * (trimp(tested, 50, 150, MEN) / trimp(reference, 50, 150, MEN) - 1)
    assert load_difference(reference, tested, **BODY) == pytest.approx(expected)


def test_only_common_seconds_enter_the_load_difference():
    reference = np.full(100, 120.0)
    tested = reference.copy()
    tested[50:] = np.nan
    assert load_difference(reference, tested, **BODY) == pytest.approx(0)


def test_a_reference_without_load_has_no_load_difference():
    assert math.isnan(load_difference(np.full(10, 50.0), np.full(10, 60.0), **BODY))


def test_a_short_trace_has_no_direction():
    assert all(not row.seconds for row in error_by_direction(np.full(6, 100.0), np.full(6, 100.0), **BODY))


def test_a_maximum_at_rest_is_refused():
    with pytest.raises(ValueError, match="exceed"):
        error_by_intensity(np.ones(3), np.ones(3), resting=60, maximum=60, weighting=MEN)


def test_traces_of_different_length_are_refused():
    with pytest.raises(ValueError, match="as many seconds"):
        error_by_direction(np.ones(30), np.ones(31), **BODY)
