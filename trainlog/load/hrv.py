"""Heart-rate variability at rest: rMSSD of one recording, its weekly mean, and what is usual.

A recording is corrected for artefacts (``trainlog.rr``) before anything is computed, and not used at all
where too much had to be corrected: a beat put in by a rule is no measurement. What is compared is the
mean of ln rMSSD over seven days, not a single morning, against the athlete's own baseline. It informs
training and is no diagnosis.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from trainlog import rr
from trainlog.trace import FloatArray

LARGEST_CORRECTED_SHARE = 0.05
"""Share of intervals corrected or lost above which a recording is not used (common practice, no source)."""

LEAST_SECONDS = 60.0
"""Seconds of beats a recording needs.

Esco MR, Flatt AA (2014), J Sports Sci Med 13:535-541, abstract: in 23 athletes at rest, ln rMSSD of 60 s
agreed with that of 5 minutes to 0.00 +/- 0.22, that of 30 s to -0.07 +/- 0.41. The limit of 60 is ours."""

WEEK_DAYS, LEAST_VALID_DAYS = 7, 3
"""Days of the rolling mean, and how many of them need a value (Plews DJ et al. 2014, at least 3 a week)."""

LEAST_BASELINE_DAYS = 14
"""Valid days before anything is called usual (our rule, no source)."""

WORTHWHILE_SHARE = 0.5
"""Part of the baseline's standard deviation that is the smallest worthwhile change (Plews, Buchheit and
colleagues 2012-2014, from memory)."""


@dataclass(frozen=True)
class RestingVariability:
    """What one recording at rest shows.

    Attributes
    ----------
    rmssd, ln_rmssd : float
        Milliseconds, and its natural logarithm; NaN where the recording is not usable.
    corrected_share : float
        Share (0 to 1) of the intervals that were found to be artefacts or lay outside any unbroken run.
    seconds : float
        Length of the corrected beats.
    refusal : str
        Why the recording is not used, in a sentence; empty where it is.
    """

    rmssd: float
    ln_rmssd: float
    corrected_share: float
    seconds: float
    refusal: str

    @property
    def usable(self) -> bool:
        """Whether rMSSD may be used."""
        return not self.refusal


@dataclass(frozen=True)
class UsualBand:
    """Baseline mean of ln rMSSD and the band of the smallest worthwhile change around it.

    Attributes
    ----------
    low, mean, high : float
        In the logarithm of milliseconds.
    days : int
        Valid days behind it.
    """

    low: float
    mean: float
    high: float
    days: int


def rmssd(rr_ms: FloatArray) -> float:
    """Root mean square of successive differences of one unbroken run of RR intervals.

    Parameters
    ----------
    rr_ms : array, shape (intervals,)
        Successive intervals in milliseconds, already free of artefacts.

    Returns
    -------
    float
        Milliseconds. The divisor is the number of differences, and their mean is not taken off: with
        that it would be the standard deviation of the differences, another figure.

    Raises
    ------
    ValueError
        If there are fewer than two intervals, or one is not a finite positive number.

    References
    ----------
    Task Force of the ESC and NASPE (1996). Circulation 93:1043-1065. From memory.

    Examples
    --------
    >>> round(rmssd(np.array([800.0, 810.0, 790.0, 820.0, 805.0])), 4)
    20.1556
    """
    if len(rr_ms) < 2:
        raise ValueError("a difference needs two intervals")
    if not (np.all(np.isfinite(rr_ms)) and np.all(rr_ms > 0)):
        raise ValueError("RR intervals must be finite and positive")
    return float(np.sqrt(np.mean(np.diff(rr_ms) ** 2)))


def resting_variability(ends: FloatArray, rr_ms: FloatArray) -> RestingVariability:
    """Variability of one recording at rest, after artefact correction and a check of its quality.

    Parameters
    ----------
    ends : array, shape (intervals,)
        When each interval ended, in seconds, never decreasing.
    rr_ms : array, shape (intervals,)
        Length of each interval in milliseconds, as recorded.

    Returns
    -------
    RestingVariability
        With differences taken inside unbroken runs only: across lost beats there is no successive pair.

    Raises
    ------
    ValueError
        If the two arrays differ in length.

    References
    ----------
    Lipponen JA, Tarvainen MP (2019). J Med Eng Technol 43(3):173-181: the correction.

    Examples
    --------
    >>> intervals = 900.0 + 30 * np.sin(np.arange(100.0))
    >>> found = resting_variability(np.cumsum(intervals) / 1000, intervals)
    >>> found.usable, round(found.rmssd, 1), found.corrected_share
    (True, 20.3, 0.0)
    """
    if np.shape(ends) != np.shape(rr_ms):
        raise ValueError("every RR interval needs one time")
    runs = list(rr.runs(ends, rr_ms)) if len(rr_ms) else []
    beats = [rr.correct(rr_ms[run]) for run in runs]
    sound = sum(int(np.sum(corrected.found == rr.Beat.NORMAL)) for corrected in beats)
    share = 1 - sound / len(rr_ms) if len(rr_ms) else 0.0
    seconds = sum(float(corrected.rr_ms.sum()) for corrected in beats) / 1000
    differences = np.concatenate([np.empty(0), *[np.diff(corrected.rr_ms) for corrected in beats]])
    value = float(np.sqrt(np.mean(differences**2))) if len(differences) else 0.0
    refusal = _refusal(share, seconds, value)
    if refusal:
        return RestingVariability(np.nan, np.nan, share, seconds, refusal)
    return RestingVariability(value, float(np.log(value)), share, seconds, "")


def weekly_mean(ln_rmssd: FloatArray) -> FloatArray:
    """Mean of ln rMSSD over the last seven days, today counted.

    Parameters
    ----------
    ln_rmssd : array, shape (days,)
        One value a day, every day of the span; NaN for a day without a usable recording.

    Returns
    -------
    array, shape (days,)
        Mean of the valid days; NaN where fewer than three of the seven are valid. The first days of the
        span have fewer than seven to look back on, and the same rule.

    References
    ----------
    Plews DJ et al. (2014), Int J Sports Physiol Perform: at least three valid days a week; title and pages
    not recovered.

    Examples
    --------
    >>> weekly_mean(np.array([4.0, np.nan, 4.2, 4.1])).round(2)
    array([nan, nan, nan, 4.1])
    """
    padded = np.concatenate([np.full(WEEK_DAYS - 1, np.nan), np.asarray(ln_rmssd, dtype=float)])
    weeks = np.lib.stride_tricks.sliding_window_view(padded, WEEK_DAYS)
    valid = np.isfinite(weeks)
    count = valid.sum(axis=1)
    means = np.full(len(weeks), np.nan)
    np.divide(np.where(valid, weeks, 0.0).sum(axis=1), count, out=means, where=count >= LEAST_VALID_DAYS)
    return means


def usual_band(ln_rmssd: FloatArray) -> UsualBand | None:
    """What is usual for the athlete: baseline mean plus and minus half a standard deviation.

    Parameters
    ----------
    ln_rmssd : array, shape (days,)
        Daily values of the baseline, NaN for days without one. A baseline that ends before the week that
        is looked at keeps that week from moving its own measure.

    Returns
    -------
    UsualBand or None
        None with fewer than fourteen valid days.

    Notes
    -----
    The standard deviation is that of the daily values, with the divisor n - 1. Half of it is half the
    coefficient of variation times the mean.

    References
    ----------
    Plews DJ, Laursen PB, Buchheit M and colleagues (2012-2014). From memory.

    Examples
    --------
    >>> band = usual_band(np.tile([4.0, 4.2], 10))
    >>> round(band.low, 3), round(band.mean, 3), round(band.high, 3)
    (4.049, 4.1, 4.151)
    """
    values = np.asarray(ln_rmssd, dtype=float)
    values = values[np.isfinite(values)]
    if len(values) < LEAST_BASELINE_DAYS:
        return None
    mean, half = float(values.mean()), WORTHWHILE_SHARE * float(values.std(ddof=1))
    return UsualBand(mean - half, mean, mean + half, len(values))


def against_usual(weekly: float, band: UsualBand | None) -> Literal["below", "within", "above", "unknown"]:
    """Where a weekly mean lies against the usual band; on an edge it is within.

    Parameters
    ----------
    weekly : float
        Weekly mean of ln rMSSD; NaN where it is not known.
    band : UsualBand or None
        None where nothing is usual yet.

    Returns
    -------
    str
        "unknown" where either is missing. Both below and above the band are a change worth a look:
        above is not better by itself.

    Examples
    --------
    >>> against_usual(3.9, UsualBand(4.0, 4.1, 4.2, 20))
    'below'
    """
    if band is None or np.isnan(weekly):
        return "unknown"
    if weekly < band.low:
        return "below"
    return "above" if weekly > band.high else "within"


def _refusal(share: float, seconds: float, value: float) -> str:
    if seconds < LEAST_SECONDS:
        return f"Only {seconds:.0f} s of beats; {LEAST_SECONDS:.0f} s are needed."
    if share > LARGEST_CORRECTED_SHARE:
        accepted = f"up to {100 * LARGEST_CORRECTED_SHARE:.0f}% are accepted"
        return f"{100 * share:.1f}% of the beats had to be corrected; {accepted}."
    if value <= 0:
        return "Every beat is as long as the one before: these are not measured intervals."
    return ""
