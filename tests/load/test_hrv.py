import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trainlog.load.hrv import UsualBand, against_usual, resting_variability, rmssd, usual_band, weekly_mean

bounded = settings(derandomize=True, deadline=None, max_examples=50)


def breathing(count=200, seed=1):
    noise = np.random.default_rng(seed).normal(0, 5, count)
    return 950 + 40 * np.sin(np.arange(count) / 2.5) + noise


def found(rr_ms):
    return resting_variability(np.cumsum(rr_ms) / 1000, rr_ms)


def test_a_clean_recording_keeps_its_own_variability():
    rr_ms = breathing()
    result = found(rr_ms)
    assert result.usable
    assert result.corrected_share == 0
    assert result.rmssd == pytest.approx(rmssd(rr_ms))
    assert result.ln_rmssd == pytest.approx(np.log(rmssd(rr_ms)))
    assert result.seconds == pytest.approx(rr_ms.sum() / 1000)


def test_a_missed_beat_is_corrected_before_variability_is_computed():
    rr_ms = breathing()
    missed = np.concatenate([rr_ms[:100], [rr_ms[100] + rr_ms[101]], rr_ms[102:]])
    result = found(missed)
    assert rmssd(missed) > 2 * rmssd(rr_ms)
    assert result.rmssd == pytest.approx(rmssd(rr_ms), rel=0.03)
    assert result.corrected_share == pytest.approx(1 / len(missed))


def test_no_difference_is_taken_across_lost_beats():
    rr_ms = breathing()
    ends = np.cumsum(rr_ms) / 1000
    ends[100:] += 30
    rr_ms = rr_ms.copy()
    rr_ms[100:] += 200
    ends[100:] += 0.2 * np.arange(1, 101)
    halves = [np.diff(half) for half in (rr_ms[:100], rr_ms[100:])]
    expected = np.sqrt(np.mean(np.concatenate(halves) ** 2))
    assert resting_variability(ends, rr_ms).rmssd == pytest.approx(expected)


def test_a_recording_with_too_many_corrected_beats_is_not_used():
    rr_ms = breathing()
    rr_ms[10::15] *= 2
    result = found(rr_ms)
    assert not result.usable
    assert result.corrected_share > 0.05
    assert "had to be corrected; up to 5% are accepted" in result.refusal
    assert np.isnan(result.rmssd)
    assert np.isnan(result.ln_rmssd)


def test_intervals_too_long_for_a_beat_count_as_lost():
    rr_ms = breathing()
    rr_ms[20:200:15] = 4000
    assert found(rr_ms).corrected_share >= 12 / 200


def test_half_a_minute_is_too_short():
    result = found(breathing(count=31))
    assert "60 s are needed" in result.refusal


def test_a_recording_without_beats_is_too_short_and_no_error():
    assert "60 s are needed" in found(np.empty(0)).refusal


def test_beats_of_exactly_equal_length_are_not_taken_for_a_measurement():
    assert "not measured" in found(np.full(100, 1000.0)).refusal


def test_an_interval_without_a_time_is_refused():
    with pytest.raises(ValueError, match="needs one time"):
        resting_variability(np.arange(3.0), np.full(4, 1000.0))


@pytest.mark.parametrize("rr_ms", [[800.0], []])
def test_variability_of_a_single_interval_is_refused(rr_ms):
    with pytest.raises(ValueError, match="two intervals"):
        rmssd(np.array(rr_ms))


@pytest.mark.parametrize("bad", [0.0, -800.0, np.nan, np.inf])
def test_an_impossible_interval_is_refused(bad):
    with pytest.raises(ValueError, match="finite and positive"):
        rmssd(np.array([800.0, bad, 810.0]))


@bounded
@given(st.lists(st.floats(300, 2000), min_size=2, max_size=50), st.floats(0, 500))
def test_longer_beats_of_the_same_differences_have_the_same_variability(intervals, longer):
    rr_ms = np.array(intervals)
    assert rmssd(rr_ms + longer) == pytest.approx(rmssd(rr_ms), abs=1e-9)


def test_a_week_needs_three_valid_days():
    daily = np.array([4.0, np.nan, np.nan, 4.2, np.nan, np.nan, np.nan, 4.4, 4.6, np.nan])
    means = weekly_mean(daily)
    assert np.isnan(means[:8]).all()
    assert means[8:] == pytest.approx([4.4, 4.4])


def test_a_weekly_mean_looks_back_seven_days_and_no_further():
    daily = np.concatenate([[9.0], np.full(7, 4.0)])
    assert weekly_mean(daily)[6] > 4
    assert weekly_mean(daily)[7] == pytest.approx(4)


@bounded
@given(st.lists(st.one_of(st.just(np.nan), st.floats(2, 6)), min_size=1, max_size=40))
def test_a_weekly_mean_lies_within_its_days(daily):
    values = np.array(daily)
    for day, mean in enumerate(weekly_mean(values)):
        week = values[max(day - 6, 0) : day + 1]
        assert np.isnan(mean) == (np.isfinite(week).sum() < 3)
        if np.isfinite(mean):
            assert np.nanmin(week) - 1e-9 <= mean <= np.nanmax(week) + 1e-9


def test_nothing_is_usual_before_fourteen_valid_days():
    daily = np.array([4.0, 4.2] * 6 + [4.1] + [np.nan] * 10)
    assert usual_band(daily) is None
    assert usual_band(np.append(daily, 4.1)).days == 14


def test_the_usual_band_is_half_a_deviation_to_each_side():
    daily = np.random.default_rng(1).normal(4.1, 0.2, 30)
    band = usual_band(daily)
    assert band.mean == pytest.approx(daily.mean())
    assert (band.low, band.high) == pytest.approx(
        (daily.mean() - 0.5 * daily.std(ddof=1), daily.mean() + 0.5 * daily.std(ddof=1))
    )


@pytest.mark.parametrize(
    ("weekly", "where"),
    [(3.9, "below"), (4.0, "within"), (4.1, "within"), (4.2, "within"), (4.3, "above"), (np.nan, "unknown")],
)
def test_a_week_lies_below_within_or_above_what_is_usual(weekly, where):
    assert against_usual(weekly, UsualBand(4.0, 4.1, 4.2, 20)) == where


def test_a_week_without_a_baseline_is_not_judged():
    assert against_usual(4.1, None) == "unknown"
