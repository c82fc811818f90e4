"""RR intervals of a file: when each ended, and heart rate from them where the file gives none."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from math import isfinite

import numpy as np

from trainlog import rr
from trainlog.readers.samples import Samples
from trainlog.trace import FloatArray


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
    ends: list[float] = []
    lengths: list[float] = []
    end = -np.inf
    for clock, intervals in batches:
        known = [interval for interval in intervals if 0 < interval < 60_000]
        if not known or not isfinite(clock):
            continue
        total = sum(known) / 1000
        if abs(end + total - clock) > rr.LARGEST_DRIFT:
            end = clock - total
        for interval in known:
            end += interval / 1000
            ends.append(end)
            lengths.append(interval)
    return np.array(ends, float), np.array(lengths, float)


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
