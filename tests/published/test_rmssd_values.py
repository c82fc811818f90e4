"""Variability of RR intervals at rest.

The definition: root of the mean of the squared successive differences, divided by their number (Task Force of
the ESC and NASPE 1996, Circulation 93:1043-1065, from memory). The example is our own; its rMSSD equals the
output of NeuroKit2 0.2.13.
"""

import os
from datetime import date
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from trainlog.load.hrv import (
    LEAST_VALID_DAYS,
    WORTHWHILE_SHARE,
    resting_variability,
    rmssd,
    usual_band,
)
from trainlog.services.rr_file import rmssd_of_file

ROOT = Path(__file__).resolve().parents[2]
PEAKS = Path(os.environ.get("TRAINLOG_SHARED", ROOT.parent / "shared")) / "checks/data/synthetic_rr_peaks.csv"
RR_MS = np.array([800.0, 810.0, 790.0, 820.0, 805.0])


def test_five_intervals_have_our_worked_variability():
    """Our regression value, sqrt(406.25), equal to NeuroKit2 0.2.13."""
    assert rmssd(RR_MS) == pytest.approx(20.1556443707, abs=5e-11)
    assert np.log(rmssd(RR_MS)) == pytest.approx(3.0034843668, abs=5e-11)


def test_the_deviation_of_the_differences_is_another_figure():
    """Our regression value: 23.228933 is the standard deviation of the same differences."""
    assert np.diff(RR_MS).std(ddof=1) == pytest.approx(23.228933, abs=5e-7)
    assert rmssd(RR_MS) < 21


@pytest.mark.skipif(not PEAKS.exists(), reason=f"the shared beats are not at {PEAKS}")
@pytest.mark.parametrize(
    ("damage", "variability"),
    [(lambda peaks: peaks, 22.7386), (lambda peaks: np.delete(peaks, 150), 22.7405)],
    ids=["clean", "a beat missed"],
)
def test_a_recording_has_the_variability_of_another_implementation(damage, variability):
    """Our regression value on invented beats, by NeuroKit2 0.2.13; it cuts beats to whole milliseconds."""
    rr_ms = np.diff(damage(np.loadtxt(PEAKS, skiprows=1)))
    found = resting_variability(np.cumsum(rr_ms) / 1000, rr_ms)
    assert found.usable
    assert found.rmssd == pytest.approx(variability, abs=0.02)


@pytest.mark.skipif(not PEAKS.exists(), reason=f"the shared beats are not at {PEAKS}")
@pytest.mark.parametrize(
    ("damage", "variability", "corrected"),
    [(lambda peaks: peaks, 22.7386, 0), (lambda peaks: np.delete(peaks, 150), 22.7405, 1)],
    ids=["clean", "a beat missed"],
)
def test_a_file_of_the_same_beats_has_the_same_variability(damage, variability, corrected):
    """Our regression value by NeuroKit2 0.2.13, from the text of a file to the tenth that is kept."""
    rr_ms = np.diff(damage(np.loadtxt(PEAKS, skiprows=1)))
    content = "\n".join(f"{interval:g}" for interval in rr_ms).encode()
    found = rmssd_of_file(content, date(2026, 3, 2), ZoneInfo("UTC"))
    assert found.rmssd == pytest.approx(variability, abs=0.05 + 0.02)
    assert found.rmssd_beats == len(rr_ms)
    assert found.rmssd_corrected_share == pytest.approx(corrected / len(rr_ms))


def test_a_week_needs_the_three_valid_days_plews_found_enough():
    """Plews et al. (2014), as the abstract says: at least three valid days a week."""
    assert LEAST_VALID_DAYS == 3


def test_the_smallest_worthwhile_change_is_half_the_coefficient_of_variation():
    """Plews, Buchheit and colleagues 2012-2014, from memory: 0.5 x CV x mean; the example is ours."""
    daily = np.random.default_rng(2).normal(4.2, 0.15, 28)
    coefficient_of_variation = daily.std(ddof=1) / daily.mean()
    band = usual_band(daily)
    assert WORTHWHILE_SHARE == 0.5
    assert band.high - band.mean == pytest.approx(0.5 * coefficient_of_variation * daily.mean())
