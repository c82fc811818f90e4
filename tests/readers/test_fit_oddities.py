"""FIT files with rare features, and what is salvaged of damaged ones."""

import struct
from dataclasses import replace
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
    definition,
    file_id,
    message,
    sample,
    with_compressed_times,
    with_developer_field,
)
from tests.trace_builders import NOW, START, segment, with_rr, workout
from trainlog.readers import CsvColumns, UnreadableFile, fit_contents, read
from trainlog.readers.beats import LONGEST_SILENCE, ends_of_intervals
from trainlog.readers.fit_checksum import checksum
from trainlog.rr import LARGEST_DRIFT

DEVICE = fit_writer.Device(product=7, serial=1234)
SECONDS_1989 = int(START.timestamp()) - fit_writer.EPOCH
steadily = settings(derandomize=True, deadline=None, max_examples=100)
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


def only_rr_messages(intervals):
    """Messages of one RR interval each, without any sample."""
    rows = [struct.pack("<B5H", 3, interval, *[0xFFFF] * 4) for interval in intervals]
    return definition(3, 78, [(0, 10, UINT16)]) + b"".join(rows)


def session_of(start, seconds):
    fields = (253, UINT32, start + seconds), (2, UINT32, start), (7, UINT32, 1000 * seconds)
    return message(5, 18, *fields, (5, ENUM, 2))


def test_rr_intervals_without_any_sample_are_counted_from_the_start_of_the_session():
    intervals = [round(800 + 10 * np.sin(i / 2)) for i in range(60)]
    reading = read(of(file_id(), only_rr_messages(intervals), session_of(SECONDS_1989, 49)), now=NOW)
    np.testing.assert_allclose(reading.trace.heart_rate[2:], 75, atol=1.2)
    assert reading.trace.start == START
    assert reading.trace.rr_ms.tolist() == intervals
    assert any("counted from the start" in note for note in reading.notes)


def test_rr_intervals_of_a_damaged_file_without_any_sample_are_read_up_to_the_damage():
    intervals = [800] * 60
    file = of(file_id(), session_of(SECONDS_1989, 49), only_rr_messages(intervals))
    reading = read(fit_writer.cut_short(file, 0.7), now=NOW)
    np.testing.assert_allclose(reading.trace.heart_rate[2:], 75, atol=0.5)
    assert 20 < len(reading.trace.rr_ms) < 60


def test_rr_intervals_without_any_sample_or_start_are_read_from_the_start_that_is_told():
    file = of(file_id(), only_rr_messages([800] * 60))
    with pytest.raises(UnreadableFile, match="clock"):
        read(file, now=NOW)
    reading = read(file, now=NOW, csv_columns=CsvColumns(start=START))
    assert reading.trace.start == START
    assert len(reading.trace.rr_ms) == 60


def uneven_beats(seed, shortest=250, longest=1600):
    """A workout whose seconds hold anything from no beat to four."""
    trace = workout(300)
    rr_ms = np.random.default_rng(seed).integers(shortest, longest, 400).astype(float)
    ends = np.cumsum(rr_ms) / 1000
    inside = ends < 298
    return replace(trace, rr_seconds=ends[inside], rr_ms=rr_ms[inside])


@pytest.mark.parametrize("seed", range(4))
def test_rr_intervals_between_samples_are_read_as_the_slow_decoder_reads_them(seed, monkeypatch):
    file = fit_writer.write(uneven_beats(seed), DEVICE)
    fast = read(file, now=NOW).trace
    monkeypatch.setattr(fit_contents, "decode", lambda part: None)
    monkeypatch.setattr(fit_contents, "_decode_fast", lambda *arguments: None)
    slow = read(file, now=NOW).trace
    np.testing.assert_allclose(fast.rr_ms, slow.rr_ms, rtol=0, atol=1e-9)
    np.testing.assert_allclose(fast.rr_seconds, slow.rr_seconds, rtol=0, atol=1e-6)


def test_rr_intervals_in_an_unusual_layout_are_left_to_the_general_decoder():
    """A time stamp beside the intervals, as the format does not foresee it there."""
    pieces = [definition(3, 78, [(253, 4, UINT32), (0, 4, UINT16)])]
    for second in range(60):
        pieces += [
            sample(SECONDS_1989 + second, 75),
            struct.pack("<BI2H", 3, SECONDS_1989 + second, 800, 0xFFFF),
        ]
    trace = read(of(file_id(), *pieces), now=NOW).trace
    assert set(trace.rr_ms.tolist()) == {800}
    assert len(trace.rr_ms) >= 59


@steadily
@given(
    st.lists(
        st.tuples(st.floats(0, 1000), st.lists(st.integers(-5, 70_000), max_size=4)), min_size=0, max_size=30
    )
)
def test_intervals_follow_one_another_until_their_sum_leaves_the_time_of_their_batch(batches):
    expected, end = [], -np.inf
    for clock, intervals in batches:
        known = [interval for interval in intervals if 0 < interval < LONGEST_SILENCE]
        total = sum(known) / 1000
        if known and abs(end + total - clock) > LARGEST_DRIFT:
            end = clock - total
        for interval in known:
            end += interval / 1000
            expected.append(end)
    ends, _ = ends_of_intervals(batches)
    np.testing.assert_allclose(ends, expected, rtol=0, atol=1e-6)


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
