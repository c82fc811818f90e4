import math

import numpy as np
import pytest

from accuracy.core.agreement.peaks import missed_peaks, session_peak_difference


def hills(heights, seconds=300):
    """A valley of 110 bpm with one bell-shaped peak in every stretch."""
    at = np.arange(seconds)
    return np.concatenate([110 + (h - 110) * np.exp(-(((at - seconds / 2) / 40) ** 2)) for h in heights])


def test_a_sensor_that_follows_misses_no_peak():
    heart = hills([160, 170, 165])
    found = missed_peaks(heart, heart - 3)
    assert (found.peaks, found.missed, found.share) == (3, 0, 0)
    assert math.isnan(found.mean_shortfall)


def test_peaks_that_are_cut_off_are_missed_by_what_lacks():
    heart = hills([160, 170, 165])
    found = missed_peaks(heart, np.minimum(heart, 150))
    assert (found.peaks, found.missed) == (3, 3)
    assert found.mean_shortfall == pytest.approx(15, abs=0.3)


def test_a_shortfall_of_five_is_not_missed_and_of_six_is():
    heart = hills([170, 170])
    assert missed_peaks(heart, heart - 5).missed == 0
    assert missed_peaks(heart, heart - 6).missed == 2


def test_a_peak_shown_half_a_minute_late_is_not_missed():
    heart = hills([170, 170])
    assert missed_peaks(heart, np.roll(heart, 28)).missed == 0
    assert missed_peaks(heart, np.roll(heart, 75)).missed == 2


def test_a_small_bump_is_no_peak():
    assert missed_peaks(hills([118, 118]), hills([118, 118])).peaks == 0


def test_a_peak_at_which_the_sensor_has_no_reading_is_not_counted():
    heart = hills([170, 170])
    tested = heart.copy()
    tested[100:200] = np.nan
    assert missed_peaks(heart, tested).peaks == 1


def test_raising_both_traces_misses_no_more():
    heart = hills([160, 170, 165])
    tested = np.minimum(heart, 158)
    assert missed_peaks(heart + 10, tested + 10) == missed_peaks(heart, tested)


def test_traces_of_nothing_have_no_peak():
    nothing = np.full(100, np.nan)
    assert missed_peaks(nothing, nothing).peaks == 0
    assert math.isnan(session_peak_difference(nothing, nothing))


def test_the_sessions_peak_is_a_five_second_mean():
    reference, tested = hills([170]), hills([160])
    tested[20] = 220
    assert session_peak_difference(reference, reference - 8) == pytest.approx(-8)
    assert session_peak_difference(reference, tested) < -9


def test_traces_of_different_length_are_refused():
    with pytest.raises(ValueError, match="as many seconds"):
        missed_peaks(np.ones(40), np.ones(41))
