"""FIT files with rare features, and what is salvaged of damaged ones."""

import struct
from datetime import timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fixtures import fit_writer
from fixtures.fit_message_writer import (
    ENUM,
    UINT16,
    UINT32,
    file_id,
    message,
    sample,
    with_compressed_times,
    with_developer_field,
)
from tests.trace_builders import NOW, START, segment, with_rr, workout
from trainlog.readers import CsvColumns, UnreadableFile, fit_contents, read
from trainlog.readers.fit_checksum import checksum

DEVICE = fit_writer.Device(product=7, serial=1234)
SECONDS_1989 = int(START.timestamp()) - fit_writer.EPOCH
RATES = [120, 121, 122, 123]


def of(*messages):
    return fit_writer.wrap(b"".join(messages))


def found(data, **options):
    return read(data, now=NOW, **options).trace.heart_rate.tolist()


@pytest.mark.parametrize("name", ["timestamp", "heart_rate", "speed", "Effort", "ü"])
def test_a_developer_field_never_hides_the_files_own(name):
    reading = read(of(file_id(), with_developer_field(SECONDS_1989, [7] * 4, name, own_rates=RATES)), now=NOW)
    assert reading.trace.start == START
    assert reading.trace.heart_rate.tolist() == RATES
    assert "speed" not in reading.trace.others
    assert reading.notes == ()


@pytest.mark.parametrize("name", ["heart_rate", "Heart Rate", "HeartRate", "hr", "HR (bpm)"])
def test_heart_rate_in_a_developer_field_stands_in_for_the_files_own(name):
    reading = read(of(file_id(), with_developer_field(SECONDS_1989, RATES, name)), now=NOW)
    assert reading.trace.heart_rate.tolist() == RATES
    assert any("added app" in note for note in reading.notes)


@pytest.mark.parametrize("name", ["heart_rate_target", "effort", ""])
def test_a_developer_field_of_another_name_is_no_heart_rate(name):
    with pytest.raises(UnreadableFile, match="no heart rate"):
        read(of(file_id(), with_developer_field(SECONDS_1989, RATES, name)), now=NOW)


@pytest.mark.parametrize("step", [1, 7, 31])
def test_times_compressed_to_five_bits_count_on(step):
    rates = list(range(100, 150))
    trace = read(of(file_id(), with_compressed_times(SECONDS_1989, rates, step)), now=NOW).trace
    assert trace.start == START
    assert trace.seconds == 49 * step + 1


def test_compressed_times_survive_the_salvage_of_a_wrong_checksum():
    file = fit_writer.with_wrong_checksum(of(file_id(), with_compressed_times(SECONDS_1989, RATES)))
    assert found(file) == RATES


def rr_messages(intervals):
    """Messages of one interval each, after the sample of the second in which it ended."""
    ends = np.cumsum(intervals) / 1000
    pieces = []
    for second in range(int(ends[-1]) + 2):
        pieces.append(sample(SECONDS_1989 + second, 0xFF))
        pieces += [
            message(2, 78, (0, UINT16, int(interval)))
            for interval, end in zip(intervals, ends, strict=True)
            if second - 1 < end <= second
        ]
    return pieces


def test_rr_intervals_stand_in_where_samples_have_no_heart_rate():
    intervals = [round(800 + 10 * np.sin(i / 2)) for i in range(60)]
    reading = read(of(file_id(), *rr_messages(intervals)), now=NOW)
    np.testing.assert_allclose(reading.trace.heart_rate[2:-2], 75, atol=1.2)
    assert reading.trace.rr_ms.tolist() == intervals
    assert any("comes from RR intervals" in note for note in reading.notes)


def test_rr_intervals_do_not_replace_a_heart_rate_that_is_there():
    trace = with_rr(workout(60), interval_ms=900)
    reading = read(fit_writer.write(trace, DEVICE), now=NOW)
    np.testing.assert_array_equal(reading.trace.heart_rate, trace.heart_rate)
    assert reading.notes == ()


def unset_clock(seconds=60):
    trace = workout(seconds, start=START)
    file = fit_writer.write(trace, DEVICE, [segment(trace, "running")])
    stamps = {SECONDS_1989 + i: 1000 + i for i in range(seconds + 1)}
    for real, unset in stamps.items():
        file = file.replace(struct.pack("<I", real), struct.pack("<I", unset))
    return trace, fit_writer.wrap(file[14:-2])


def test_a_start_that_is_told_moves_samples_and_segments_of_an_unset_clock():
    trace, file = unset_clock()
    reading = read(file, now=NOW, csv_columns=CsvColumns(start=START))
    assert reading.trace.start == START
    np.testing.assert_array_equal(reading.trace.heart_rate, trace.heart_rate)
    assert reading.segments == (segment(trace, "running"),)
    assert any("when you said" in note for note in reading.notes)


def test_a_start_that_is_told_moves_rr_intervals_with_the_samples():
    trace = with_rr(workout(60))
    moved = START - timedelta(days=300)
    plain = read(fit_writer.write(trace, DEVICE), now=NOW).trace
    told = read(fit_writer.write(trace, DEVICE), now=NOW, csv_columns=CsvColumns(start=moved)).trace
    assert told.start == moved
    np.testing.assert_array_equal(told.rr_seconds, plain.rr_seconds)


def test_a_start_that_is_told_to_the_minute_leaves_the_seconds_of_the_file_alone():
    trace = workout(60, start=START.replace(second=12))
    reading = read(fit_writer.write(trace, DEVICE), now=NOW, csv_columns=CsvColumns(start=START))
    assert reading.trace.start == START.replace(second=12)
    assert reading.notes == ()


def test_what_was_recovered_is_told_against_what_the_header_promises():
    file = fit_writer.cut_short(fit_writer.write(workout(3120), DEVICE), 0.79)
    assert read(file, now=NOW).notes == (
        f"Recovered 41 of about 52 min; the file ends early, at byte {len(file):,}.",
    )


def test_what_was_recovered_is_told_against_what_the_session_says_where_it_comes_first():
    session = message(2, 18, (2, UINT32, SECONDS_1989), (7, UINT32, 90 * 60_000), (5, ENUM, 1))
    samples = [sample(SECONDS_1989 + second, 120) for second in range(3120)]
    file = fit_writer.cut_short(of(file_id(), session, *samples), 0.79)
    assert read(file, now=NOW).notes[0].startswith("Recovered 41 of 90 min; the file ends early, at byte ")


def test_damage_in_the_middle_is_told_by_its_byte():
    messages = fit_writer.write(workout(600), DEVICE)[14:-2]
    half = len(messages) // 2
    reading = read(fit_writer.wrap(messages[:half] + b"\x0f" * 200 + messages[half:]), now=NOW)
    assert any(note.startswith("Recovered ") and "damaged at byte" in note for note in reading.notes)


def test_a_file_that_the_fast_decoder_cannot_salvage_goes_to_the_slow_one(monkeypatch):
    monkeypatch.setattr(fit_contents.fitfast, "records", lambda *_: 1 / 0)
    trace = workout(60)
    np.testing.assert_array_equal(found(fit_writer.write(trace, DEVICE)), trace.heart_rate)


def test_the_slow_decoder_stops_after_so_many_values_and_says_so(monkeypatch):
    monkeypatch.setattr(fit_contents.fitfast, "records", lambda *_: 1 / 0)
    monkeypatch.setattr(fit_contents, "MOST_SALVAGED", 200)
    reading = read(fit_writer.write(workout(60), DEVICE), now=NOW)
    assert reading.trace.seconds < 60
    assert any("only its first part" in note for note in reading.notes)


@settings(deadline=None, max_examples=50, derandomize=True)
@given(st.binary(max_size=4000))
def test_the_checksum_over_arrays_is_that_byte_by_byte(data):
    assert checksum(data) == fit_writer.crc(data)
