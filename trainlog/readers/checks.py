"""Checks and repairs that every format shares: from ``Samples`` to a ``Reading``.

The rule for times that do not run forwards. Steps back of at most a minute are disorder: the samples
are sorted. A longer step back, or a step forward of more than a day, is a clock that was set or lost:
the file is cut there and its longest stretch is kept, if that holds at least half of the heart rate.
Each repair leaves a note; what cannot be repaired so is refused.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import UTC, datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from trainlog.readers.beats import with_heart_rate
from trainlog.readers.errors import UnreadableFile
from trainlog.readers.reading import Reading, Segment
from trainlog.readers.samples import Samples, Stretch
from trainlog.trace import LONGEST_BRIDGED_GAP, LONGEST_RECORDING, FloatArray, Trace, to_whole_seconds

LOWEST_HEART_RATE, HIGHEST_HEART_RATE = 25.0, 250.0
"""bpm; a value outside counts as not recorded (common practice, no source)."""

LARGEST_DISORDER = 60.0
"""Seconds back that still count as samples in the wrong order."""

LARGEST_PAUSE = 24 * 3600.0
"""Seconds forward that still count as a pause of the same recording."""

ALLOWED_SKEW = timedelta(hours=24)
"""How far ahead of ours the clock of a device may be."""

EARLIEST = datetime(2000, 1, 1, tzinfo=UTC)
"""A start before this is a clock that was never set."""

MOST_SAMPLES = 600_000
"""Samples or beats of one file; two days at three a second stay below."""

_SAME_START = 60.0
"""Seconds within which a start that was told agrees with the times of a file, which are then finer."""

_PLAUSIBLE = {
    "cadence": (0.0, 400.0),
    "speed": (0.0, 150.0),
    "power": (0.0, 5000.0),
    "altitude": (-1000.0, 20000.0),
    "latitude": (-90.0, 90.0),
    "longitude": (-180.0, 180.0),
}
_SET_THE_CLOCK = "Enter the start of the workout, and check the clock of the device."


def to_reading(samples: Samples, now: datetime, start: datetime | None = None) -> Reading:
    """Put a file's samples on whole seconds, with every check and repair.

    Parameters
    ----------
    samples : Samples
        What the decoder of the format found.
    now : datetime
        The present instant, with a zone: what starts more than a day later is refused.
    start : datetime, optional
        When the workout started, as the athlete says: the whole file is moved there, unless its
        decoder already counted from it.

    Returns
    -------
    Reading
        With a note for every repair.

    Raises
    ------
    UnreadableFile
        If the samples cannot become a trace.
    """
    samples = with_heart_rate(samples)
    notes = list(samples.notes)
    heart_rate = _recorded_heart_rate(samples, notes)
    timed = np.isfinite(samples.times)
    if not timed.any():
        raise UnreadableFile(
            "The heart rate in this file has no times", remedy="Export the workout again with times."
        )
    others = {name: values for name, values in samples.channels.items() if name != "heart_rate"}
    channels = {"heart_rate": heart_rate} | {n: _within(v, *_PLAUSIBLE[n]) for n, v in others.items()}
    times = samples.times
    if not timed.all():
        notes.append(f"{_count(np.sum(~timed), 'sample')} without a time {_was(np.sum(~timed))} left out.")
        times, channels = times[timed], {name: values[timed] for name, values in channels.items()}

    kept = _consistent_stretch(times, channels["heart_rate"], notes)
    times, channels = _in_order(times[kept], {name: v[kept] for name, v in channels.items()}, notes)
    moved = 0.0 if start is None or samples.counts_from_start else _moved(times[0], start, notes)
    times = times + moved
    _check_dates(times, now)
    trace = _on_whole_seconds(times, channels, samples.rr_times + moved, samples.rr_ms)
    return Reading(
        trace=trace,
        format=samples.format,
        source_key=samples.source_key,
        clock=samples.clock,
        segments=_segments([Stretch(s + moved, e + moved, w) for s, e, w in samples.stretches], trace, notes),
        notes=tuple(notes),
    )


def refuse_empty(data: bytes) -> None:
    """Refuse a file of no bytes.

    Raises
    ------
    UnreadableFile
        If ``data`` is empty.
    """
    if not data:
        raise UnreadableFile(
            "The file is empty", remedy="Copy it from the device again; the transfer may have stopped."
        )


def refuse_too_many_samples(count: int) -> None:
    """Refuse a file with more samples than any recording has.

    Raises
    ------
    UnreadableFile
        If ``count`` exceeds ``MOST_SAMPLES``.
    """
    if count > MOST_SAMPLES:
        raise UnreadableFile(
            f"The file holds more than {MOST_SAMPLES:,} samples, which no single workout does",
            remedy="Split it into one file for each workout.",
        )


def _recorded_heart_rate(samples: Samples, notes: list[str]) -> FloatArray:
    values = samples.channels.get("heart_rate", np.full(len(samples.times), np.nan))
    given = values[np.isfinite(values)]
    if not len(given):
        raise UnreadableFile(
            "The file holds no heart rate",
            remedy="Import the file of the device that measured heart rate, or log the workout by hand.",
        )
    usable = _within(values, LOWEST_HEART_RATE, HIGHEST_HEART_RATE)
    refused = int(len(given) - np.isfinite(usable).sum())
    if refused == len(given):
        raise UnreadableFile(
            "Every heart rate in the file is outside 25 to 250 bpm, so the sensor recorded nothing",
            remedy="Check that the sensor was worn and connected.",
        )
    if refused:
        share = f"{refused:,} of {_count(len(given), 'heart rate')}"
        notes.append(f"{share} {_was(refused)} outside 25 to 250 bpm and counted as not recorded.")
    return usable


def _consistent_stretch(times: FloatArray, heart_rate: FloatArray, notes: list[str]) -> slice:
    steps = np.diff(times)
    cuts = np.flatnonzero((steps < -LARGEST_DISORDER) | (steps > LARGEST_PAUSE)) + 1
    if not len(cuts):
        return slice(0, len(times))
    edges = np.concatenate([[0], cuts, [len(times)]])
    worth = np.add.reduceat(np.isfinite(heart_rate).astype(int), edges[:-1])
    best = int(np.argmax(worth))
    kept = slice(int(edges[best]), int(edges[best + 1]))
    if worth[best] * 2 < worth.sum():
        raise UnreadableFile(
            f"The times in the file jump {_count(len(cuts), 'time')} and no stretch holds half of it",
            where=f"sample {cuts[0] + 1}",
            remedy="Split the file where the times jump. " + _SET_THE_CLOCK,
        )
    left_out = len(times) - (kept.stop - kept.start)
    if left_out:
        notes.append(
            f"The clock of the device jumps inside the file; {left_out:,} of {len(times):,} samples "
            "on the far side of the jump were left out."
        )
    return kept


def _in_order(
    times: FloatArray, channels: dict[str, FloatArray], notes: list[str]
) -> tuple[FloatArray, dict[str, FloatArray]]:
    """Sort the samples and merge those that share a time, the last recorded value winning."""
    steps = np.diff(times)
    if (steps > 0).all():
        return times, channels
    back = steps < 0
    if back.any():
        order = np.argsort(times, kind="stable")
        times, channels = times[order], {name: values[order] for name, values in channels.items()}
        notes.append(f"{_count(back.sum(), 'sample')} {_was(back.sum())} out of order and put in order.")
    first = np.flatnonzero(np.diff(times, prepend=-np.inf) > 0)
    if len(first) == len(times):
        return times, channels
    given = np.add.reduceat(np.isfinite(channels["heart_rate"]).astype(int), first)
    replaced = int((given - 1).clip(0).sum())
    if replaced:
        notes.append(
            f"{_count(replaced, 'heart rate')} had the same time as a later one, which was kept instead."
        )
    return times[first], {name: _last_recorded(values, first) for name, values in channels.items()}


def _last_recorded(values: FloatArray, first: NDArray[np.int64]) -> FloatArray:
    """Last value that is not NaN in each group that starts at ``first``; NaN if there is none."""
    place = np.where(np.isfinite(values), np.arange(len(values)), -1)
    last = np.maximum.reduceat(place, first)
    return np.where(last >= 0, values[last], np.nan)


def _moved(first: float, start: datetime, notes: list[str]) -> float:
    """Seconds by which times move so that the first is the start that was told; none if it agrees."""
    moved = start.timestamp() - first
    if abs(moved) <= _SAME_START:
        return 0.0
    notes.append(
        f"The times of the file were moved so that it starts when you said: {start:%Y-%m-%d %H:%M:%S %Z}."
    )
    return moved


def _check_dates(times: FloatArray, now: datetime) -> None:
    first, last = float(times[0]), float(times[-1])
    if first < EARLIEST.timestamp():
        raise UnreadableFile(
            f"The times in the file lie before {EARLIEST:%Y}, so the clock of the device was not set",
            remedy=_SET_THE_CLOCK,
            asks_for="start",
        )
    if first > (now + ALLOWED_SKEW).timestamp():
        raise UnreadableFile("The workout starts in the future", remedy=_SET_THE_CLOCK, asks_for="start")
    if last - first > LONGEST_RECORDING:
        raise UnreadableFile(
            f"The file spans {(last - first) / 3600:.0f} hours, longer than any workout "
            f"({LONGEST_RECORDING // 3600} hours)",
            remedy="Split it into one file for each workout. " + _SET_THE_CLOCK,
        )


def _on_whole_seconds(
    times: FloatArray, channels: Mapping[str, FloatArray], rr_times: FloatArray, rr_ms: FloatArray
) -> Trace:
    first, last = int(np.ceil(times[0])), int(np.floor(times[-1]))
    since = times - first
    grid = np.arange(max(last - first + 1, 0), dtype=float)
    on_grid = np.array_equal(since, grid)
    gridded = {
        name: values if on_grid and np.isfinite(values).all() else to_whole_seconds(since, values, grid)
        for name, values in channels.items()
    }
    heart_rate = gridded.pop("heart_rate")
    usable = int(np.isfinite(channels["heart_rate"]).sum())
    if usable < 2 or np.isfinite(heart_rate).sum() < 2:
        raise UnreadableFile(
            f"The file holds {_count(usable, 'heart rate')}, but too few within "
            f"{LONGEST_BRIDGED_GAP} s of another to be a recording",
            remedy="Set the device to record every second, or import a longer recording.",
        )
    rr_seconds = rr_times - first
    inside = (rr_seconds >= 0) & (rr_seconds <= len(grid)) & (rr_ms > 0) & np.isfinite(rr_ms)
    order = np.argsort(rr_seconds[inside], kind="stable")
    return Trace(
        start=datetime.fromtimestamp(first, tz=UTC),
        heart_rate=heart_rate,
        others={name: values for name, values in gridded.items() if np.isfinite(values).any()},
        rr_seconds=rr_seconds[inside][order],
        rr_ms=rr_ms[inside][order],
    )


def _segments(stretches: Sequence[Stretch], trace: Trace, notes: list[str]) -> tuple[Segment, ...]:
    """Stretches cut to the trace, in order of time; those that do not touch it are left out."""
    begins, ends = trace.start.timestamp(), trace.end.timestamp()
    segments = []
    for start, end, sport in sorted(s for s in stretches if np.isfinite([s.start, s.end]).all()):
        low, high = int(max(np.floor(start), begins)), int(min(np.ceil(end), ends))
        if low < high:
            first, last = (datetime.fromtimestamp(second, tz=UTC) for second in (low, high))
            segments.append(Segment(first, last, sport))
    if len(segments) < len(stretches):
        lost = len(stretches) - len(segments)
        notes.append(f"{_count(lost, 'stretch', 'es')} the file marks {_was(lost)} outside the recording.")
    return tuple(segments)


def _within(values: FloatArray, low: float, high: float) -> FloatArray:
    return np.where((values >= low) & (values <= high), values, np.nan)


def _count(number: int | np.integer, noun: str, plural: str = "s") -> str:
    return f"{number:,} {noun}{'' if number == 1 else plural}"


def _was(number: int | np.integer) -> str:
    return "was" if number == 1 else "were"
