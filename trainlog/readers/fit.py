"""FIT activity files: heart rate from samples or from stored beats, RR intervals, sports."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from trainlog.readers import fit_contents, fit_structure, fit_words
from trainlog.readers.beats import LONGEST_SILENCE, ends_of_batches, merged
from trainlog.readers.errors import UnreadableFile
from trainlog.readers.fit_contents import Contents, Table
from trainlog.readers.fit_stored_beats import stored_beats
from trainlog.readers.fit_structure import Part
from trainlog.readers.reading import Clock
from trainlog.readers.samples import Samples, Stretch
from trainlog.trace import FloatArray

# The plain fields come first: the fast decoder derives the enhanced ones from them and may lose a step.
_COLUMNS = {
    "heart_rate": ("heart_rate",),
    "cadence": ("cadence",),
    "speed": ("speed", "enhanced_speed"),
    "power": ("power",),
    "altitude": ("altitude", "enhanced_altitude"),
}


def decode(data: bytes, *, keep_positions: bool) -> Samples:
    """Decode a FIT activity file, salvaged as far as possible if it is damaged.

    Parameters
    ----------
    data : bytes
        The whole file; chained files are read one after the other.
    keep_positions : bool
        Whether latitude and longitude are wanted.

    Returns
    -------
    Samples
        With notes on damage, on chained files and on where heart rate may come from.

    Raises
    ------
    UnreadableFile
        If the file is no activity or has no heart rate.
    """
    parts, trailing = fit_structure.split(data)
    activities: list[Contents] = []
    damage, others = [], []
    for part in parts:
        contents = fit_contents.decode(part)
        if contents is None:
            contents = fit_contents.salvage(part)
            damage.append(_damage(part, contents))
        kind = _first(contents.file_id, "type")
        if activities and contents.hr and not contents.record:
            activities[-1].hr += contents.hr
        elif kind == fit_words.ACTIVITY_FILE or (np.isnan(kind) and contents.record):
            activities.append(contents)
        else:
            others.append(kind)
    if not activities:
        raise _no_activity(others, damaged=bool(damage))
    notes = list(damage)
    if trailing:
        notes.append(f"{trailing:,} bytes after the end of the workout were left out.")
    if len(activities) > 1:
        notes.append(f"{len(activities)} workouts chained into this file were read one after the other.")
    source_key, sensor_note = _source(activities[0])
    if sensor_note:
        notes.append(sensor_note)
    samples = _merge([_samples(contents, keep_positions) for contents in activities], source_key, notes)
    if damage and not len(samples.rr_ms) and not np.isfinite(samples.channels["heart_rate"]).any():
        raise UnreadableFile(
            "The file is damaged and what could be read of it holds no heart rate",
            where=next((f"byte {part.sound_until:,}" for part in parts if not part.ends_soundly), ""),
            remedy="Copy it from the device again.",
        )
    return samples


def _no_activity(kinds: list[float], damaged: bool) -> UnreadableFile:
    holds = " and ".join(dict.fromkeys(fit_words.kind_of_file(kind) for kind in kinds if np.isfinite(kind)))
    if damaged and not holds:
        return UnreadableFile(
            "The file is damaged before its first sample, so nothing can be recovered",
            remedy="Copy it from the device again.",
        )
    return UnreadableFile(
        f"The file holds {holds or 'nothing'}, not a recorded workout",
        remedy="Choose the file of the workout itself, usually in the device's folder of activities.",
    )


def _damage(part: Part, contents: Contents) -> str:
    """One sentence on what was recovered of a damaged part and what is wrong with it."""
    times = _column(contents.record, "timestamp")
    times = times[np.isfinite(times)]
    minutes = (times[-1] - times[0]) / 60 if len(times) else 0.0
    recovered = f"{minutes:.0f} min" if minutes >= 1 else f"{len(times)} samples"
    whole, about = float(np.nansum(_column(contents.session, "total_elapsed_time"))) / 60, ""
    if not whole and part.cut_short and part.promised > len(part.data):
        whole, about = minutes * part.promised / len(part.data), "about "
    if minutes >= 1 and whole > minutes + 0.5:
        recovered = f"{minutes:.0f} of {about}{whole:.0f} min"
    if not contents.complete:
        return f"Recovered {recovered}; the file is damaged so that only its first part could be read."
    if part.cut_short:
        return f"Recovered {recovered}; the file ends early, at byte {part.offset + len(part.data):,}."
    if not part.ends_soundly:
        return f"Recovered {recovered}; the file is damaged at byte {part.sound_until:,}."
    return f"Recovered {recovered}; the checksum does not match, so single values may be wrong."


def _source(contents: Contents) -> tuple[str, str]:
    """Key of the device and, if it listed one, of the heart-rate sensor; and a note on the latter."""
    numbers = [_first(contents.file_id, name) for name in ("manufacturer", "product", "serial_number")]
    key = ""
    if np.isfinite(numbers).any():
        key = "fit:" + "/".join("?" if np.isnan(number) else f"{number:.0f}" for number in numbers)
    devices = contents.device_info
    external = [
        row
        for row, (source, kind) in enumerate(
            zip(_column(devices, "source_type"), _column(devices, "device_type"), strict=True)
        )
        if fit_words.is_external_heart_rate_sensor(source, kind)
    ]
    if not external:
        return key, ""
    serials = np.concatenate(
        [_column(devices, name)[external] for name in ("serial_number", "ant_device_number")]
    )
    named = serials[np.isfinite(serials) & (serials > 0)]
    return (
        f"{key or 'fit:?'}+hr:{named[0]:.0f}" if len(named) else f"{key or 'fit:?'}+hr:?",
        "A heart-rate sensor was connected by radio, so heart rate may come from it "
        "rather than from the device.",
    )


def _samples(contents: Contents, keep_positions: bool) -> Samples:
    record = contents.record
    times = _column(record, "timestamp")
    channels = {name: _best(record, columns) for name, columns in _COLUMNS.items()}
    if "fractional_cadence" in record:
        channels["cadence"] = channels["cadence"] + np.nan_to_num(record["fractional_cadence"])
    latitude, longitude = (_column(record, name) for name in ("position_lat", "position_long"))
    if keep_positions:
        channels |= {"latitude": latitude, "longitude": longitude}
    notes: tuple[str, ...] = ()
    if len(times):
        rr_times, rr_ms = _rr_intervals(contents, times)
    else:
        start, rr_times, rr_ms = _rr_from_start(contents)
        if len(rr_ms):
            times, channels = np.array([start]), {name: np.full(1, np.nan) for name in channels}
            notes = ("The file stamps no beat, so RR intervals are counted from the start of the workout.",)
    if contents.developer_heart_rate is not None and not np.isfinite(channels["heart_rate"]).any():
        channels["heart_rate"] = contents.developer_heart_rate
        notes = ("Heart rate comes from a field that an added app wrote, not from the device's own.",)
    if contents.hr and not np.isfinite(channels["heart_rate"]).any():
        beat_times, beats = stored_beats(contents.hr)
        if len(times) and np.all(np.diff(times) >= 0):
            inside = (beat_times >= times[0]) & (beat_times <= times[-1])
            beat_times, beats = beat_times[inside], beats[inside]
        times, channels = merged(times, channels, beat_times, beats)
        notes = ("Heart rate comes from beats stored in the sensor and sent to the device later.",)
    return Samples(
        format="fit",
        times=times,
        channels=channels,
        rr_times=rr_times,
        rr_ms=rr_ms,
        clock=Clock.SYNCHRONISED if np.isfinite(latitude).any() else Clock.UNKNOWN,
        stretches=_stretches(contents.session),
        notes=notes,
    )


def _merge(parts: list[Samples], source_key: str, notes: list[str]) -> Samples:
    """Join chained workouts in order of their start."""
    if len(parts) == 1:
        return replace(parts[0], source_key=source_key, notes=(*notes, *parts[0].notes))
    parts = sorted(parts, key=lambda part: part.times[np.isfinite(part.times)].min(initial=np.inf))
    synchronised = all(part.clock is Clock.SYNCHRONISED for part in parts)
    return Samples(
        format="fit",
        times=np.concatenate([part.times for part in parts]),
        channels={
            name: np.concatenate([part.channels[name] for part in parts]) for name in parts[0].channels
        },
        rr_times=np.concatenate([part.rr_times for part in parts]),
        rr_ms=np.concatenate([part.rr_ms for part in parts]),
        source_key=source_key,
        clock=Clock.SYNCHRONISED if synchronised else Clock.UNKNOWN,
        stretches=tuple(stretch for part in parts for stretch in part.stretches),
        notes=(*notes, *dict.fromkeys(note for part in parts for note in part.notes)),
    )


def _stretches(session: Table) -> tuple[Stretch, ...]:
    starts, stamps = _column(session, "start_time"), _column(session, "timestamp")
    elapsed = _column(session, "total_elapsed_time")
    ends = np.where(np.isfinite(elapsed), starts + elapsed, stamps)
    words = [
        fit_words.sport_word(sport, sub_sport)
        for sport, sub_sport in zip(_column(session, "sport"), _column(session, "sub_sport"), strict=True)
    ]
    return tuple(
        Stretch(*stretch)
        for stretch in zip(starts.tolist(), ends.tolist(), words, strict=True)
        if np.isfinite(stretch[:2]).all() and stretch[0] < stretch[1]
    )


def _rr_intervals(contents: Contents, record_times: FloatArray) -> tuple[FloatArray, FloatArray]:
    """End and length of each RR interval; those that came before the first sample are left out."""
    if not contents.rr_ms:
        return np.empty(0), np.empty(0)
    counts, lengths = _rr_batches(contents)
    before = contents.records_before_rr
    known = (before > 0) & (before <= len(record_times))
    clocks = np.where(known, record_times[(before - 1).clip(0, len(record_times) - 1)], np.nan)
    return ends_of_batches(clocks, counts, lengths)


def _rr_batches(contents: Contents) -> tuple[NDArray[np.int64], FloatArray]:
    """How many places for intervals each message has, and the intervals in milliseconds."""
    counts = [np.full(len(rows), rows.shape[1], np.int64) for rows in contents.rr_ms]
    lengths = [np.ravel(rows) for rows in contents.rr_ms]
    return np.concatenate([np.empty(0, np.int64), *counts]), np.concatenate([np.empty(0), *lengths])


def _rr_from_start(contents: Contents) -> tuple[float, FloatArray, FloatArray]:
    """Start of a file without any sample, and end and length of each RR interval counted from it.

    The session says the start, else the file; else the clock counts as never set, so that it can be told.
    """
    _, lengths = _rr_batches(contents)
    lengths = lengths[(lengths > 0) & (lengths < LONGEST_SILENCE)]
    stamps = (_first(contents.session, "start_time"), _first(contents.file_id, "time_created"))
    start = next((stamp for stamp in stamps if np.isfinite(stamp)), fit_contents.EPOCH)
    return start, start + np.cumsum(lengths) / 1000, lengths


def _length(table: Table) -> int:
    return len(next(iter(table.values()), ()))


def _column(table: Table, name: str) -> FloatArray:
    return table[name] if name in table else np.full(_length(table), np.nan)


def _best(table: Table, names: tuple[str, ...]) -> FloatArray:
    """First of several columns that has a value, row by row."""
    values = _column(table, names[0])
    for name in names[1:]:
        values = np.where(np.isfinite(values), values, _column(table, name))
    return values


def _first(table: Table, name: str) -> float:
    values = _column(table, name)
    values = values[np.isfinite(values)]
    return float(values[0]) if len(values) else float("nan")
