"""RR intervals of a file: when each ended, and heart rate from them where the file gives none."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from trainlog import rr
from trainlog.readers.samples import Samples
from trainlog.trace import FloatArray

LONGEST_SILENCE = 60_000
"""Milliseconds from which an interval is a value without meaning (the format's "unknown" is 65,535)."""


def ends_of_intervals(batches: Iterable[tuple[float, Sequence[float]]]) -> tuple[FloatArray, FloatArray]:
    """When each RR interval ended, from intervals that arrive in batches.

    Ends follow from summing intervals, which is finer than the time of a batch; where the sum leaves
    that time by more than ``rr.LARGEST_DRIFT``, beats were lost and the last beat of the batch is
    set to its time.

    Parameters
    ----------
    batches : iterable of (float, sequence of float)
        Time of each batch in seconds, and its intervals in milliseconds, oldest first.

    Returns
    -------
    ends, lengths : array, shape (intervals,)
        Seconds and milliseconds.
    """
    known = list(batches)
    lengths = np.array([interval for _, intervals in known for interval in intervals], float)
    return ends_of_batches(
        np.array([clock for clock, _ in known], float),
        np.array([len(intervals) for _, intervals in known], int),
        lengths,
    )


def ends_of_batches(
    clocks: FloatArray, counts: NDArray[np.integer], rr_ms: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """As ``ends_of_intervals``, of batches that are arrays already.

    Parameters
    ----------
    clocks : array, shape (batches,)
        Time of each batch in seconds, NaN where it is not known.
    counts : array of int, shape (batches,)
        How many intervals each batch has.
    rr_ms : array, shape (intervals,)
        Intervals of all batches in milliseconds, oldest first.

    Returns
    -------
    ends, lengths : array, shape (intervals with a meaning,)
        Seconds and milliseconds.
    """
    batch = np.repeat(np.arange(len(counts)), counts)
    known = (rr_ms > 0) & (rr_ms < LONGEST_SILENCE) & np.isfinite(clocks)[batch]
    lengths, batch = rr_ms[known], batch[known]
    first = np.flatnonzero(np.diff(batch, prepend=-1))
    so_far = np.cumsum(lengths / 1000)
    before = np.concatenate([[0.0], so_far])[first]
    totals = np.diff(before, append=so_far[-1:])
    begins = _begins(clocks[batch[first]], totals)
    per_batch = np.diff(first, append=len(lengths))
    return so_far + np.repeat(begins - before, per_batch), lengths


def _begins(clocks: FloatArray, totals: FloatArray) -> FloatArray:
    """When each batch began, from its time and what its intervals add up to, both in seconds."""
    unbroken = clocks[:1] - totals[:1] + np.concatenate([[0.0], np.cumsum(totals)])
    if (np.abs(unbroken[1:] - clocks) <= rr.LARGEST_DRIFT).all():
        return unbroken[:-1]
    begins, end = [], -np.inf
    for clock, total in zip(clocks.tolist(), totals.tolist(), strict=True):
        if abs(end + total - clock) > rr.LARGEST_DRIFT:
            end = clock - total
        begins.append(end)
        end += total
    return np.array(begins, float)


def with_heart_rate(samples: Samples) -> Samples:
    """Samples whose heart rate comes from RR intervals, if they have those and no heart rate.

    Parameters
    ----------
    samples : Samples
        What a decoder found.

    Returns
    -------
    Samples
        The same, or with a sample at each beat and a note.
    """
    given = samples.channels.get("heart_rate", np.empty(0))
    if np.isfinite(given).any() or not len(samples.rr_ms):
        return samples
    order = np.argsort(samples.rr_times, kind="stable")
    times, rates, found = rr.heart_rate(samples.rr_times[order], samples.rr_ms[order])
    if not len(times):
        return samples
    note = "Heart rate comes from RR intervals"
    artefacts = int(np.count_nonzero(found))
    if artefacts:
        share = 100 * artefacts / len(found)
        note += (
            f"; {artefacts:,} of {len(found):,} ({'under 1' if share < 1 else f'{share:.0f}'}%) were early, "
            "late, missed or extra beats and were corrected for it"
        )
    merged_times, channels = merged(samples.times, samples.channels, times, rates)
    return replace(samples, times=merged_times, channels=channels, notes=(*samples.notes, f"{note}."))


def merged(
    times: FloatArray, channels: Mapping[str, FloatArray], beat_times: FloatArray, beats: FloatArray
) -> tuple[FloatArray, dict[str, FloatArray]]:
    """Samples of a file together with heart rates at the beats, in order of time.

    Parameters
    ----------
    times : array, shape (samples,)
        Unix seconds of the samples; where they run backwards or are unknown, only the beats count.
    channels : mapping of str to array, shape (samples,)
        Signals; their heart rate is empty.
    beat_times, beats : array, shape (beats,)
        Unix seconds, and heart rate in bpm.

    Returns
    -------
    times : array, shape (samples + beats,)
        Unix seconds.
    channels : dict of str to array
        Signals, NaN at the beats but for heart rate.
    """
    if not len(times) or not np.all(np.diff(times) >= 0):
        nothing = np.full(len(beats), np.nan)
        return beat_times, {"heart_rate": beats} | {
            name: nothing for name in channels if name != "heart_rate"
        }
    joined = np.concatenate([times, beat_times])
    order = np.argsort(joined, kind="stable")
    heart_rate = np.concatenate([np.full(len(times), np.nan), beats])
    nothing = np.full(len(beats), np.nan)
    others = {
        name: np.concatenate([values, nothing]) for name, values in channels.items() if name != "heart_rate"
    }
    return joined[order], {
        name: values[order] for name, values in {"heart_rate": heart_rate, **others}.items()
    }
