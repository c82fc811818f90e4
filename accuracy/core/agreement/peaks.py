"""Peaks of the heart rate that the tested sensor misses, and the session's own peak."""

from __future__ import annotations

import math
from dataclasses import asdict, dataclass

import numpy as np
import scipy
from scipy import ndimage

from accuracy.core.agreement.differences import plain
from trainlog.trace import FloatArray

PEAK_SECONDS = 5
"""Seconds over which a peak is averaged (common practice, no source)."""

PEAK_PROMINENCE, PEAK_DISTANCE = 10.0, 30
"""bpm a peak must rise over the valleys beside it, and seconds to the next (common practice, no source)."""

PEAK_BEFORE, PEAK_AFTER = 10, 30
"""Seconds before and after a peak in which the tested sensor may show it (common practice, no source)."""

MISSED_BPM = 5.0
"""bpm by which the tested sensor must fall short for a peak to be missed (common practice, no source)."""


@dataclass(frozen=True)
class MissedPeaks:
    """Peaks of the reference that the tested sensor does not reach.

    Attributes
    ----------
    peaks, missed : int
        Peaks of the reference at which the tested sensor has a reading, and those of them it missed.
    share : float
        Missed over peaks, 0 to 1; NaN without a peak.
    mean_shortfall : float
        bpm by which missed peaks are missed on average; NaN without one.
    """

    peaks: int
    missed: int
    share: float
    mean_shortfall: float

    def as_dict(self) -> dict:
        """Figures by name (shortfall in bpm), ready for JSON."""
        return plain(asdict(self))


def missed_peaks(reference: FloatArray, tested: FloatArray) -> MissedPeaks:
    """Count the reference's peaks that the tested sensor falls short of.

    A peak is a local maximum of the reference's five-second mean that rises at least 10 bpm over the valleys
    on both sides, at least 30 s from a higher one. It is missed if the highest five-second mean of the
    tested sensor from 10 s before to 30 s after lies more than 5 bpm below (common practice, no source).

    Parameters
    ----------
    reference, tested : array, shape (seconds,)
        Heart rate in bpm at 1 Hz, NaN for gaps.

    Returns
    -------
    MissedPeaks
        Counts, share and mean shortfall.

    Raises
    ------
    ValueError
        If the traces differ in length.
    """
    if len(reference) != len(tested):
        raise ValueError("the two traces must have as many seconds each")
    smooth, smooth_tested = _running_mean(reference), _running_mean(tested)
    known = np.isfinite(smooth)
    if known.sum() < PEAK_DISTANCE:
        return MissedPeaks(0, 0, math.nan, math.nan)
    at = np.arange(len(smooth))
    bridged = np.interp(at, at[known], smooth[known])
    found, _ = scipy.signal.find_peaks(bridged, prominence=PEAK_PROMINENCE, distance=PEAK_DISTANCE)
    found = found[known[found]]
    reached = np.where(np.isfinite(smooth_tested), smooth_tested, -np.inf)
    padded = np.concatenate([np.full(PEAK_BEFORE, -np.inf), reached, np.full(PEAK_AFTER, -np.inf)])
    reach = found[:, None] + np.arange(PEAK_BEFORE + PEAK_AFTER + 1)
    highest = padded[reach].max(axis=1) if len(found) else np.empty(0)
    seen = np.isfinite(highest)
    shortfall = smooth[found[seen]] - highest[seen]
    missed = shortfall > MISSED_BPM
    count, lost = int(seen.sum()), int(missed.sum())
    return MissedPeaks(
        count,
        lost,
        lost / count if count else math.nan,
        float(shortfall[missed].mean()) if lost else math.nan,
    )


def session_peak_difference(reference: FloatArray, tested: FloatArray) -> float:
    """Highest five-second mean of the tested trace less that of the reference, bpm; NaN without one."""
    highest = [values[np.isfinite(values)] for values in map(_running_mean, (reference, tested))]
    if not all(len(values) for values in highest):
        return math.nan
    return float(highest[1].max() - highest[0].max())


def _running_mean(values: FloatArray) -> FloatArray:
    """Centred five-second mean, NaN unless all five seconds are known."""
    if len(values) < PEAK_SECONDS:
        return np.full(len(values), np.nan)
    known = np.isfinite(values)
    filled = np.where(known, values, 0.0)
    mean = ndimage.uniform_filter1d(filled, PEAK_SECONDS, mode="constant")
    whole = ndimage.uniform_filter1d(known.astype(float), PEAK_SECONDS, mode="constant") > 1 - 1e-9
    return np.where(whole, mean, np.nan)
