"""Detectors of what is wrong with one trace, whatever the sensor: arrays in, one mark a second out."""

from __future__ import annotations

import itertools

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from trainlog.trace import FloatArray

BoolArray = NDArray[np.bool_]

LOWEST_RATE, HIGHEST_RATE = 30.0, 230.0
"""bpm outside which a reading is no heart at work (common practice, no source)."""

FLAT_SECONDS = 90
"""Seconds of one exactly constant rate that mean a stuck sensor (common practice, no source).

In the 92,000 s of the one-athlete sessions the longest true run is 68 s, and runs of 60 s occur.
"""

SPIKE_WINDOW, SPIKE_HEIGHT = 31, 20.0
"""Seconds of the running median, and bpm off it that make a spike (common practice, no source)."""

FASTEST_SECOND = 10.0
"""bpm of change in one second that a heart does not make (common practice, no source)."""

FASTEST_FIVE_SECONDS = 35.0
"""bpm of change in five seconds that a heart does not make (common practice, no source)."""

LONGEST_EXCURSION = 120
"""Seconds, at most, from an impossible change to its return, all wrong (common practice, no source)."""

UNSETTLED_SECONDS = 300
"""Seconds from the first reading in which electrodes may still be dry (common practice, no source)."""

ERRATIC_SECOND = 8.0
"""bpm in one second that make an erratic jump while electrodes may be dry (common practice, no source)."""

ERRATIC_JUMPS = 3
"""Erratic jumps that make a start unsettled (common practice, no source)."""

LOCK_ON_SECONDS = 240
"""Seconds an optical sensor may need to lock on (trade practice: 2 to 4 minutes; no published source)."""

LEAP_SECONDS, LOCK_ON_LEAP = 20, 25.0
"""Seconds, and bpm within them, that look like an optical sensor finding the heart rate (ours, by trial)."""

SHORT_LEAP_SECONDS, SHORT_LEAP = 6, 20.0
"""The same in one stroke; a rise of 60 bpm with a time constant of 20 s covers 16 bpm in 6 s (ours)."""

LATER_LOW_PERCENTILE, BELOW_LATER = 5, 8.0
"""Percentile of the later recording, and bpm below it, from which a leap up must start (ours, by trial)."""

LEAP_STAYS = 0.2
"""Share of the leap by which the rate may go on changing in the next as many seconds (ours, by trial).

An exponential rise with a time constant of 20 to 40 s goes on by 0.37 to 0.61 of it.
"""


def runs(mask: BoolArray) -> list[tuple[int, int]]:
    """First and first-after index of every run of True."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], mask, [False]]).astype(np.int8)))
    return [(start, end) for start, end in edges.reshape(-1, 2).tolist()]


def flat(heart_rate: FloatArray) -> BoolArray:
    """Seconds in runs of one exactly constant rate of at least FLAT_SECONDS."""
    mask = np.zeros(len(heart_rate), dtype=bool)
    for start, end in runs(np.diff(heart_rate) == 0):
        if end - start + 1 >= FLAT_SECONDS:
            mask[start : end + 1] = True
    return mask


def spikes(heart_rate: FloatArray, known: BoolArray) -> BoolArray:
    """Seconds far off a running median of the recorded seconds."""
    mask = np.zeros(len(heart_rate), dtype=bool)
    recorded = heart_rate[known]
    middle = ndimage.median_filter(recorded, size=SPIKE_WINDOW, mode="nearest")
    mask[known] = np.abs(recorded - middle) > SPIKE_HEIGHT
    return mask


def impossible_changes(heart_rate: FloatArray) -> BoolArray:
    """Seconds of changes too fast for a heart, and what lies between one and its return."""
    mask = np.zeros(len(heart_rate), dtype=bool)
    changes = np.zeros(len(heart_rate))
    for span, most in ((5, FASTEST_FIVE_SECONDS), (1, FASTEST_SECOND)):
        change = heart_rate[span:] - heart_rate[:-span]
        starts = np.flatnonzero(np.abs(change) > most)
        changes[starts] = change[starts]
        for offset in range(span + 1):
            mask[starts + offset] = True
    at = np.flatnonzero(changes)
    for start, end in itertools.pairwise(at):
        if changes[start] * changes[end] < 0 and end - start <= LONGEST_EXCURSION:
            mask[start + 1 : end + 1] = True
    return mask


def dry_start(heart_rate: FloatArray, wrong: BoolArray) -> BoolArray:
    """Mark from the first reading to the last erratic second of the first minutes."""
    mask = np.zeros(len(heart_rate), dtype=bool)
    first = int(np.argmax(np.isfinite(heart_rate)))
    last = min(first + UNSETTLED_SECONDS, len(heart_rate))
    jumps = np.abs(np.diff(heart_rate[first:last])) > ERRATIC_SECOND
    start = heart_rate[first:last]
    steps = np.abs(start[5:] - start[:-5]) > FASTEST_FIVE_SECONDS
    if jumps.sum() >= ERRATIC_JUMPS or steps.any():
        erratic = wrong[first:last].copy()
        erratic[1:] |= jumps
        mask[first : first + int(np.flatnonzero(erratic)[-1]) + 1] = True
    return mask


def start_before_lock_on(heart_rate: FloatArray) -> BoolArray:
    """From the first reading to the end of the last leap of the first minutes.

    A leap goes far in ``LEAP_SECONDS`` and then stays, where a heart that rises at the onset of work goes on
    rising, and if it goes up it starts below what the rest of the recording holds, since sets and intervals
    start from where the rests before them ended. Or it goes nearly as far in ``SHORT_LEAP_SECONDS``.
    """
    mask = np.zeros(len(heart_rate), dtype=bool)
    first = int(np.argmax(np.isfinite(heart_rate)))
    end = min(first + LOCK_ON_SECONDS + 2 * LEAP_SECONDS, len(heart_rate))
    start, later = heart_rate[first:end], heart_rate[end:]
    later = later[np.isfinite(later)]
    if len(start) <= 2 * LEAP_SECONDS:
        return mask
    leap = start[LEAP_SECONDS:] - start[:-LEAP_SECONDS]
    stays = np.abs(leap[LEAP_SECONDS:]) <= LEAP_STAYS * np.abs(leap[:-LEAP_SECONDS])
    leap = leap[:-LEAP_SECONDS]
    short = (start[SHORT_LEAP_SECONDS:] - start[:-SHORT_LEAP_SECONDS])[: len(leap)]
    low = np.percentile(later, LATER_LOW_PERCENTILE) - BELOW_LATER if len(later) else np.inf
    from_below = start[: len(leap)] <= low
    for seconds, far in (
        (LEAP_SECONDS, (np.abs(leap) >= LOCK_ON_LEAP) & stays & (from_below | (leap < 0))),
        (SHORT_LEAP_SECONDS, np.abs(short) >= SHORT_LEAP),
    ):
        there = np.flatnonzero(far[:LOCK_ON_SECONDS])
        if len(there):
            mask[first : first + int(there[-1]) + seconds // 2] = True
    return mask
