"""RR intervals: finding and correcting artefacts, and the heart rate they stand for.

The artefact method is that of Lipponen & Tarvainen (2019), written anew here because the library that
offers it would more than double what the log installs; its results are kept as regression values in
the tests.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import IntEnum

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from trainlog.trace import FloatArray

LONGEST_INTERVAL = 3000.0
"""Milliseconds; a longer interval is a stretch of lost beats, not a beat (common practice, no source)."""

LARGEST_DRIFT = 2.0
"""Seconds by which the times of beats may leave the sum of their intervals within one run."""

MOST_PASSES = 10
"""Rounds of correction; the method itself only asks that each leave fewer artefacts than the last."""

_ALPHA, _C1, _C2 = 5.2, 0.13, 0.17
_THRESHOLD_WINDOW, _MEDIAN_WINDOW = 91, 11
_FEWEST_BEATS = 5


class Beat(IntEnum):
    """What an RR interval was found to be."""

    NORMAL = 0
    ECTOPIC = 1
    MISSED = 2
    EXTRA = 3
    LONG_OR_SHORT = 4


@dataclass(frozen=True, eq=False)
class CorrectedBeats:
    """Beats after correction, and what was corrected.

    Attributes
    ----------
    rr_ms : array, shape (corrected beats,)
        Intervals between the corrected beats, in milliseconds.
    end_ms : array, shape (corrected beats,)
        When each of them ended, in milliseconds after the first interval began.
    found : array of int, shape (intervals,)
        For each interval that was given, a ``Beat``.
    """

    rr_ms: FloatArray
    end_ms: FloatArray
    found: NDArray[np.int8]


def correct(rr_ms: FloatArray) -> CorrectedBeats:
    """Correct ectopic, missed, extra and misplaced beats of one unbroken run of RR intervals.

    A missed beat is put half way between its neighbours, an extra one taken out, and a beat that
    came too early or too late is moved half way between its neighbours; this is repeated as long as
    each round leaves fewer artefacts.

    Parameters
    ----------
    rr_ms : array, shape (intervals,)
        Successive intervals in milliseconds, all finite and positive.

    Returns
    -------
    CorrectedBeats
        Runs of fewer than five intervals come back as they are: the method needs neighbours.

    References
    ----------
    Lipponen JA, Tarvainen MP (2019). A robust algorithm for heart rate variability time series
    artefact correction using novel beat classification. J Med Eng Technol 43(3):173-181.

    Examples
    --------
    >>> steady = 800.0 + 10 * np.sin(np.arange(60.0))
    >>> missed = np.concatenate([steady[:30], [steady[30] + steady[31]], steady[32:]])
    >>> len(correct(missed).rr_ms), Beat(int(correct(missed).found[30])).name
    (60, 'MISSED')
    """
    peaks = np.concatenate([[0.0], np.cumsum(rr_ms)])
    origin = np.arange(-1, len(rr_ms))
    found = np.zeros(len(rr_ms), np.int8)
    before = len(peaks) + 1
    for _ in range(MOST_PASSES if len(rr_ms) >= _FEWEST_BEATS else 0):
        artefacts = _classify(peaks)
        if not 0 < len(artefacts) < before:
            break
        before = len(artefacts)
        for beat, kind in artefacts.items():
            if origin[beat] >= 0 and not found[origin[beat]]:
                found[origin[beat]] = kind
        peaks, origin = _corrected(peaks, origin, artefacts)
    return CorrectedBeats(rr_ms=np.diff(peaks), end_ms=peaks[1:], found=found)


def heart_rate(ends: FloatArray, rr_ms: FloatArray) -> tuple[FloatArray, FloatArray, NDArray[np.int8]]:
    """Heart rate of corrected beats: 60,000 over the interval, at the instant at which it ends.

    Parameters
    ----------
    ends : array, shape (intervals,)
        When each interval ended, in seconds, never decreasing.
    rr_ms : array, shape (intervals,)
        Length of each interval in milliseconds.

    Returns
    -------
    times : array, shape (beats,)
        Seconds, increasing strictly.
    bpm : array, shape (beats,)
        Heart rate. Nothing stands for an interval longer than ``LONGEST_INTERVAL`` or for time
        between the runs: putting the beats on a grid bridges short silences and leaves long ones.
    found : array of int, shape (intervals,)
        For each interval that was given, a ``Beat``.
    """
    times, rates = [np.empty(0)], [np.empty(0)]
    found = np.zeros(len(rr_ms), np.int8)
    for run in runs(ends, rr_ms):
        beats = correct(rr_ms[run])
        found[run] = beats.found
        sound = beats.rr_ms > 0
        times.append(np.interp(beats.end_ms[sound], np.cumsum(rr_ms[run]), ends[run]))
        rates.append(60_000 / beats.rr_ms[sound])
    when, bpm = np.concatenate(times), np.concatenate(rates)
    later = np.maximum.accumulate(np.concatenate([[-np.inf], when]))[:-1] < when
    return when[later], bpm[later], found


def runs(ends: FloatArray, rr_ms: FloatArray) -> Iterator[slice]:
    """Unbroken runs of intervals, split where beats are lost.

    Parameters
    ----------
    ends, rr_ms : array, shape (intervals,)
        When each interval ended, in seconds, and its length in milliseconds.

    Yields
    ------
    slice
        Of intervals of which none is longer than ``LONGEST_INTERVAL`` and each begins, within
        ``LARGEST_DRIFT``, where the one before it ended.
    """
    usable = (rr_ms > 0) & (rr_ms <= LONGEST_INTERVAL)
    apart = np.abs(np.diff(ends) - rr_ms[1:] / 1000) > LARGEST_DRIFT
    edges = np.flatnonzero(apart | ~usable[1:] | ~usable[:-1]) + 1
    for begin, end in zip([0, *edges.tolist()], [*edges.tolist(), len(rr_ms)], strict=True):
        if begin < end and usable[begin]:
            yield slice(begin, end)


def _classify(peaks: FloatArray) -> dict[int, Beat]:
    """Kind of each beat that is not normal, by its index, following figure 1 of the paper."""
    rr = np.diff(peaks, prepend=0.0)
    rr[0] = rr[1:].mean()
    change = np.diff(rr, prepend=0.0)
    change[0] = change[1:].mean()
    change = _over(change, _threshold(change))
    around = np.pad(change, 2, "reflect")
    previous, following, after = around[1:-3], around[3:-1], around[4:]
    s12 = np.where(change > 0, np.maximum(previous, following), np.minimum(previous, following))
    s22 = np.where(change >= 0, np.minimum(following, after), np.maximum(following, after))
    median = _rolling_median(rr)
    deviation = rr - median
    deviation[deviation < 0] *= 2
    limit = _threshold(deviation)
    deviation = _over(deviation, limit)

    jumps = np.abs(change) > 1
    ectopic = jumps & np.where(change > 0, s12 < -_C1 * change - _C2, s12 > -_C1 * change + _C2)
    long = (change > 1) & (s22 < -1)
    short = (change < -1) & (s22 > 1)
    suspect = long | short | (np.abs(deviation) > 3)
    missed = long & (np.abs(rr / 2 - median) < limit)
    extra = short & (np.abs(rr + np.append(rr[1:], 0.0) - median) < limit)

    kinds: dict[int, Beat] = {}
    for beat in np.flatnonzero(jumps[:-2]).tolist():
        if beat in kinds:
            continue
        if ectopic[beat]:
            kinds[beat] = Beat.ECTOPIC
            continue
        next_too = abs(change[beat + 1]) < abs(change[beat + 2])
        for candidate in (beat, beat + 1) if next_too else (beat,):
            if suspect[candidate]:
                kinds[candidate] = (
                    Beat.EXTRA
                    if extra[candidate]
                    else Beat.MISSED
                    if missed[candidate]
                    else Beat.LONG_OR_SHORT
                )
    return kinds


def _corrected(
    peaks: FloatArray, origin: NDArray[np.int64], artefacts: dict[int, Beat]
) -> tuple[FloatArray, NDArray[np.int64]]:
    """Beats after one round of correction, and which given interval each of them ends (-1: none)."""
    kinds = np.zeros(len(peaks), np.int8)
    kinds[list(artefacts)] = list(artefacts.values())
    kept = kinds != Beat.EXTRA
    peaks, origin, kinds = peaks[kept], origin[kept], kinds[kept]

    missed = np.flatnonzero(kinds == Beat.MISSED)
    missed = missed[missed > 1]
    half_way = (peaks[missed - 1] + peaks[missed]) / 2
    peaks = np.insert(peaks, missed, half_way)
    origin, kinds = np.insert(origin, missed, -1), np.insert(kinds, missed, Beat.NORMAL)

    for kind in (Beat.ECTOPIC, Beat.LONG_OR_SHORT):
        moved = np.flatnonzero(kinds == kind)
        moved = moved[(moved > 1) & (moved < len(peaks) - 1)]
        peaks[moved] = (peaks[moved - 1] + peaks[moved + 1]) / 2
        order = np.argsort(peaks, kind="stable")
        peaks, origin, kinds = peaks[order], origin[order], kinds[order]
    return peaks, origin


def _threshold(values: FloatArray) -> FloatArray:
    """5.2 quartile deviations of the 91 values around each (fewer at the ends)."""
    low, high = _rolling_quantiles(np.abs(values), _THRESHOLD_WINDOW, (0.25, 0.75))
    return _ALPHA * (high - low) / 2


def _rolling_median(values: FloatArray) -> FloatArray:
    return _rolling_quantiles(values, _MEDIAN_WINDOW, (0.5,))[0]


def _rolling_quantiles(values: FloatArray, width: int, quantiles: tuple[float, ...]) -> FloatArray:
    """Quantiles of a centred window of odd width, cut off at the ends; between ranks, interpolated."""
    half = width // 2
    result = np.empty((len(quantiles), len(values)))
    for place, quantile in enumerate(quantiles):
        rank, share = divmod(quantile * (width - 1), 1)
        result[place] = ndimage.rank_filter(values, int(rank), size=width)
        if share:
            higher = ndimage.rank_filter(values, int(rank) + 1, size=width)
            result[place] += share * (higher - result[place])
    for i in {*range(min(half, len(values))), *range(max(len(values) - half, 0), len(values))}:
        result[:, i] = np.quantile(values[max(i - half, 0) : i + half + 1], quantiles)
    return result


def _over(values: FloatArray, limits: FloatArray) -> FloatArray:
    """Ratio of two arrays, NaN where the limit is zero."""
    result = np.full(len(values), np.nan)
    np.divide(values, limits, out=result, where=limits != 0)
    return result
