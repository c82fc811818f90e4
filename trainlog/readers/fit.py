"""FIT activity files: heart rate from samples or from stored beats, RR intervals, sports."""

from __future__ import annotations

from typing import Any

import numpy as np

from trainlog.readers import fit_contents, fit_structure, fit_words
from trainlog.readers.errors import UnreadableFile
from trainlog.readers.fit_contents import Contents, Table
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
_TICKS = 1024
"""Ticks a second of the clock that stamps stored beats."""

_LARGEST_DRIFT = 2.0
"""Seconds by which summed RR intervals may leave the clock of the samples before they are set to it."""


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
    if damage and not np.isfinite(samples.channels["heart_rate"]).any():
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
    """One sentence on what is wrong with a part and what was recovered of it."""
    times = _column(contents.record, "timestamp")
    times = times[np.isfinite(times)]
    minutes = (times[-1] - times[0]) / 60 if len(times) else 0.0
    recovered = f"{minutes:.0f} min" if minutes >= 1 else f"{len(times)} samples"
    elapsed = np.nansum(_column(contents.session, "total_elapsed_time")) / 60
    if minutes >= 1 and elapsed > minutes + 1:
        recovered = f"{minutes:.0f} of {elapsed:.0f} min"
    if part.cut_short:
        return f"The file ends early, at byte {part.offset + len(part.data):,}; recovered {recovered}."
    if not part.ends_soundly:
        return f"The file is damaged at byte {part.sound_until:,}; recovered {recovered} before it."
    return f"The checksum does not match, so single values may be wrong; recovered {recovered}."


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
    channels["cadence"] = channels["cadence"] + np.nan_to_num(_column(record, "fractional_cadence"))
    latitude, longitude = (_column(record, name) for name in ("position_lat", "position_long"))
    if keep_positions:
        channels |= {"latitude": latitude, "longitude": longitude}
    notes: tuple[str, ...] = ()
    rr_times, rr_ms = _rr_intervals(contents, times)
    if contents.hr and not np.isfinite(channels["heart_rate"]).any():
        times, channels = _with_stored_beats(times, channels, contents.hr)
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
    """End and length of each RR interval: summed up, and set to the clock of the samples on a gap."""
    ends, lengths = [], []
    end = -np.inf
    for records_before, intervals in contents.rr:
        if not 0 < len(record_times) >= records_before:
            continue
        clock = record_times[max(records_before - 1, 0)]
        if np.isnan(clock):
            continue
        for interval in intervals if isinstance(intervals, (list, tuple)) else (intervals,):
            if not isinstance(interval, (int, float)) or not 0 < interval < 60:
                continue
            end = end + interval if abs(end + interval - clock) <= _LARGEST_DRIFT else clock
            ends.append(end)
            lengths.append(interval * 1000)
    return np.array(ends, float), np.array(lengths, float)


def _with_stored_beats(
    times: FloatArray, channels: dict[str, FloatArray], messages: list[dict[Any, Any]]
) -> tuple[FloatArray, dict[str, FloatArray]]:
    """Take heart rate from ``hr`` messages, cut to the span of the workout."""
    beat_times, beats = _stored_beats(messages)
    timed = times[np.isfinite(times)]
    if len(timed) and np.all(np.diff(timed) >= 0):
        inside = (beat_times >= timed[0]) & (beat_times <= timed[-1])
        beat_times, beats = beat_times[inside], beats[inside]
        merged = np.concatenate([times, beat_times])
        order = np.argsort(merged, kind="stable")
        merged_channels = {
            name: np.concatenate([values, beats if name == "heart_rate" else np.full(len(beats), np.nan)])
            for name, values in channels.items()
        }
        return merged[order], {name: values[order] for name, values in merged_channels.items()}
    nothing = np.full(len(beats), np.nan)
    return beat_times, {name: beats if name == "heart_rate" else nothing for name in channels}


def _stored_beats(messages: list[dict[Any, Any]]) -> tuple[FloatArray, FloatArray]:
    """Unix time and filtered heart rate of each beat in ``hr`` messages.

    The first message of a run carries a full time stamp and the counter of the sensor's clock; the
    others carry the low 12 bits of that counter, which wrap every 4 s.
    """
    times: list[float] = []
    rates: list[float] = []
    zero = ticks = None
    for message in messages:
        rate = _sequence(message.get("filtered_bpm"))
        low_bits = _twelve_bit_numbers(message.get("event_timestamp_12"))
        counters = _sequence(message.get("event_timestamp")) if low_bits is None else []
        stamp = message.get("timestamp")
        if counters and isinstance(stamp, (int, float)):
            fraction = message.get("fractional_timestamp", 0.0)
            zero = stamp + (fraction if isinstance(fraction, (int, float)) else 0.0) - counters[0]
        if zero is None:
            continue
        stamps: list[float] = []
        for counter in counters:
            ticks = round(counter * _TICKS)
            stamps.append(counter)
        for bits in low_bits or []:
            if ticks is None:
                break
            ticks += (bits - ticks) % 4096
            stamps.append(ticks / _TICKS)
        times += [zero + stamp for stamp, _ in zip(stamps, rate, strict=False)]
        rates += [value for _, value in zip(stamps, rate, strict=False)]
    return np.array(times, float), np.array(rates, float)


def _twelve_bit_numbers(packed: Any) -> list[int] | None:
    if not isinstance(packed, (bytes, list, tuple)) or not all(isinstance(byte, int) for byte in packed):
        return None
    numbers = []
    for first, second, third in zip(packed[0::3], packed[1::3], packed[2::3], strict=False):
        numbers += [first | (second & 0x0F) << 8, second >> 4 | third << 4]
    return numbers


def _sequence(value: Any) -> list[float]:
    items = value if isinstance(value, (list, tuple, bytes)) else [value]
    return [float(item) if isinstance(item, (int, float)) else np.nan for item in items if item is not None]


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
