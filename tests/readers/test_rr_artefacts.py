"""Correcting RR intervals, against another implementation's results and on simulated truth."""

import csv
import os
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trainlog.rr import LONGEST_INTERVAL, Beat, correct, heart_rate, runs

ROOT = Path(__file__).resolve().parents[2]
PEAKS = Path(os.environ.get("TRAINLOG_SHARED", ROOT.parent / "shared")) / "checks/data/synthetic_rr_peaks.csv"


def rmssd(rr_ms):
    return float(np.sqrt(np.mean(np.diff(rr_ms) ** 2)))


def moved(peaks, beat, by):
    result = peaks.copy()
    result[beat] += by
    return np.sort(result)


def breathing(count=400, length=700.0, seed=1):
    noise = np.random.default_rng(seed).normal(0, 3, count)
    return length + 20 * np.sin(np.arange(count) / 2.5) + 60 * np.sin(np.arange(count) / 80) + noise


@pytest.mark.skipif(not PEAKS.exists(), reason=f"the shared beats are not at {PEAKS}")
@pytest.mark.parametrize(
    ("damage", "before", "after"),
    [
        (lambda peaks: peaks, 22.7386, 22.7386),
        (lambda peaks: np.delete(peaks, 150), 86.1533, 22.7405),
        (lambda peaks: np.insert(peaks, 100, peaks[99] + 502), 46.4439, 22.8026),
        (lambda peaks: moved(peaks, 200, -300), 48.9857, 25.3580),
    ],
    ids=["clean", "a beat missed", "an extra beat", "a beat moved"],
)
def test_rmssd_after_correction_is_that_of_another_implementation(damage, before, after):
    """NeuroKit2 0.2.13, ``signal_fixpeaks`` by default; it cuts beats to whole milliseconds."""
    with PEAKS.open() as file:
        peaks = np.array([float(row["peak_ms"]) for row in csv.DictReader(file)])
    rr_ms = np.diff(damage(peaks))
    assert rmssd(rr_ms) == pytest.approx(before, abs=5e-5)
    assert rmssd(correct(rr_ms).rr_ms) == pytest.approx(after, abs=0.02)


def test_a_missed_beat_is_put_back_half_way():
    rr_ms = breathing()
    missed = np.delete(rr_ms, 200)
    missed[199] += rr_ms[199 + 1]
    found = correct(missed)
    assert Beat(found.found[199]) is Beat.MISSED
    assert len(found.rr_ms) == len(rr_ms)
    assert rmssd(found.rr_ms) == pytest.approx(rmssd(rr_ms), rel=0.05)


def test_an_extra_beat_is_taken_out():
    rr_ms = breathing()
    extra = np.insert(rr_ms, 200, 0.4 * rr_ms[200])
    extra[201] *= 0.6
    found = correct(extra)
    assert Beat.EXTRA in found.found[198:203]
    assert len(found.rr_ms) == len(rr_ms)
    assert rmssd(found.rr_ms) == pytest.approx(rmssd(rr_ms), rel=0.05)


def test_an_early_beat_with_its_pause_is_called_ectopic_and_moved_half_way():
    rr_ms = breathing()
    early = rr_ms.copy()
    early[200] -= 250
    early[201] += 250
    found = correct(early)
    assert Beat.ECTOPIC in found.found[198:203]
    assert rmssd(found.rr_ms) < 0.5 * rmssd(early)


def test_breathing_alone_is_left_as_it_is():
    rr_ms = breathing()
    found = correct(rr_ms)
    assert not found.found.any()
    np.testing.assert_allclose(found.rr_ms, rr_ms)


@pytest.mark.parametrize("count", range(6))
def test_a_few_intervals_come_back_as_they_are(count):
    np.testing.assert_allclose(correct(np.full(count, 800.0)).rr_ms, 800.0)


@settings(deadline=None, max_examples=100, derandomize=True)
@given(st.lists(st.floats(1, LONGEST_INTERVAL), max_size=150))
def test_correction_keeps_the_span_and_never_makes_a_negative_interval(rr_ms):
    rr_ms = np.array(rr_ms)
    found = correct(rr_ms)
    assert len(found.found) == len(rr_ms)
    assert (found.rr_ms >= 0).all()
    assert found.rr_ms.sum() <= rr_ms.sum() * (1 + 1e-9)


@settings(deadline=None, max_examples=100, derandomize=True)
@given(
    st.lists(
        st.tuples(
            st.sampled_from([0.0, 1.0, 400.0, 800.0, 2900.0, 9000.0]), st.sampled_from([0.0, 0.0, 40.0])
        ),
        max_size=60,
    )
)
def test_heart_rate_has_increasing_times_and_one_finding_for_each_interval(beats):
    rr_ms = np.array([length for length, _ in beats])
    ends = np.cumsum([length / 1000 + silence for length, silence in beats])
    times, rates, found = heart_rate(ends, rr_ms)
    assert (np.diff(times) > 0).all()
    assert np.isfinite(rates).all()
    assert (rates > 0).all()
    assert len(found) == len(rr_ms)


def test_runs_end_where_beats_are_lost():
    rr_ms = np.array([800.0, 800.0, 9000.0, 800.0, 800.0, 800.0])
    ends = np.cumsum(rr_ms) / 1000 + np.array([0, 0, 0, 0, 0, 30.0])
    assert list(runs(ends, rr_ms)) == [slice(0, 2), slice(3, 5), slice(5, 6)]
