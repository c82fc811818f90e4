"""Damage: what is repaired with a note, what is refused in plain words, and that nothing else leaks."""

from datetime import timedelta

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from fixtures import csv_writer, fit_writer, gpx_writer
from fixtures.fit_message_writer import file_id, with_compressed_times, with_developer_field
from tests.trace_builders import NOW, START, segment, with_rr, workout
from trainlog.readers import Reading, UnreadableFile, read
from trainlog.trace import LONGEST_RECORDING

DEVICE = fit_writer.Device()
UNIX = int(START.timestamp())
PLAIN = settings(deadline=None, max_examples=100, derandomize=True)


def text(times, rates=None):
    rates = [120] * len(times) if rates is None else rates
    rows = [f"{time},{rate}" for time, rate in zip(times, rates, strict=True)]
    return "\n".join(["time,hr", *rows]).encode()


def refusal(data):
    with pytest.raises(UnreadableFile) as refused:
        read(data, now=NOW)
    assert refused.value.remedy
    return str(refused.value)


def test_an_empty_file_is_refused():
    assert "empty" in refusal(b"")


def test_a_wrong_checksum_is_noted_and_every_sample_kept():
    trace = workout(600)
    reading = read(fit_writer.with_wrong_checksum(fit_writer.write(trace, DEVICE)), now=NOW)
    np.testing.assert_array_equal(reading.trace.heart_rate, trace.heart_rate)
    assert any("checksum does not match" in note and "10 min" in note for note in reading.notes)


def test_a_file_cut_short_is_salvaged_up_to_its_end_with_the_byte():
    trace = workout(600)
    file = fit_writer.cut_short(fit_writer.write(trace, DEVICE), 0.5)
    reading = read(file, now=NOW)
    found = reading.trace.heart_rate
    assert 280 < len(found) < 320
    np.testing.assert_array_equal(found, trace.heart_rate[: len(found)])
    assert any(f"byte {len(file):,}" in note for note in reading.notes)


def test_salvage_keeps_channels_rr_intervals_sport_and_source():
    trace = with_rr(workout(300))
    file = fit_writer.write(trace, DEVICE, [segment(trace, "running")])
    whole, salvaged = read(file, now=NOW), read(fit_writer.with_wrong_checksum(file), now=NOW)
    assert (whole.source_key, whole.segments) == (salvaged.source_key, salvaged.segments)
    np.testing.assert_array_equal(whole.trace.rr_ms, salvaged.trace.rr_ms)
    np.testing.assert_array_equal(whole.trace.rr_seconds, salvaged.trace.rr_seconds)
    for name, values in whole.trace.others.items():
        np.testing.assert_allclose(salvaged.trace.others[name], values, err_msg=name)


def test_a_header_that_was_never_finished_is_salvaged():
    trace = workout(300)
    file = bytearray(fit_writer.write(trace, DEVICE))
    file[4:8] = bytes(4)
    np.testing.assert_array_equal(read(bytes(file[:-2]), now=NOW).trace.heart_rate, trace.heart_rate)


def test_bytes_after_the_end_are_left_out_with_a_note():
    reading = read(fit_writer.write(workout(60), DEVICE) + b"left over", now=NOW)
    assert any("9 bytes" in note for note in reading.notes)


@pytest.mark.parametrize("rate", [0, 255, 20, 251])
def test_heart_rates_that_are_all_out_of_range_are_refused(rate):
    assert "outside 25 to 250 bpm" in refusal(text([UNIX, UNIX + 1, UNIX + 2], [rate] * 3))


def test_single_heart_rates_out_of_range_count_as_not_recorded_with_a_note():
    reading = read(text([UNIX, UNIX + 1, UNIX + 2], [120, 0, 122]), now=NOW)
    assert reading.trace.heart_rate.tolist() == [120.0, 121.0, 122.0]
    assert any("1 of 3" in note for note in reading.notes)


def test_a_single_sample_is_refused():
    assert "too few" in refusal(text([UNIX]))


def test_samples_too_far_apart_to_join_are_refused():
    assert "within 30 s" in refusal(text([UNIX + 0.5, UNIX + 60.5, UNIX + 120.5]))


def test_a_start_in_the_future_is_refused_beyond_a_day_of_skew():
    tomorrow = int((NOW + timedelta(hours=23)).timestamp())
    assert read(text([tomorrow, tomorrow + 1]), now=NOW)
    later = int((NOW + timedelta(hours=25)).timestamp())
    assert "future" in refusal(text([later, later + 1]))


def test_a_start_before_2000_is_refused():
    assert "before 2000" in refusal(text(["1999-12-31T23:59:00Z", "1999-12-31T23:59:01Z"]))


def test_a_span_of_more_than_two_days_is_refused():
    hours = range(0, LONGEST_RECORDING + 7200, 3600)
    assert "longer than any workout" in refusal(
        text([UNIX - LONGEST_RECORDING * 2 + second for second in hours])
    )


def test_samples_slightly_out_of_order_are_put_in_order_with_a_note():
    reading = read(text([UNIX, UNIX + 2, UNIX + 1, UNIX + 3], [120, 122, 121, 123]), now=NOW)
    assert reading.trace.heart_rate.tolist() == [120.0, 121.0, 122.0, 123.0]
    assert any("out of order" in note for note in reading.notes)


def test_of_samples_with_the_same_time_the_last_is_kept_with_a_note():
    reading = read(text([UNIX, UNIX + 1, UNIX + 1, UNIX + 2], [120, 100, 121, 122]), now=NOW)
    assert reading.trace.heart_rate.tolist() == [120.0, 121.0, 122.0]
    assert any("same time" in note for note in reading.notes)


def test_after_a_jump_of_the_clock_the_longest_stretch_is_kept_with_a_note():
    times = [UNIX + 9000, UNIX + 9001, *range(UNIX, UNIX + 60)]
    reading = read(text(times), now=NOW)
    assert (reading.trace.start, reading.trace.seconds) == (START, 60)
    assert any("2 of 62 samples" in note for note in reading.notes)


def test_a_clock_that_keeps_jumping_is_refused():
    times = [UNIX - 1000 * stretch + second for stretch in range(3) for second in range(10)]
    assert "jump 2 times" in refusal(text(times))


EARLY, RATES = UNIX - fit_writer.EPOCH, list(range(120, 160))


def good_files():
    trace = with_rr(workout(90))
    segments = [segment(trace, "running", 0, 45), segment(trace, "hiit", 45)]
    return (
        fit_writer.write(trace, fit_writer.Device(heart_rate_sensor=5), segments),
        gpx_writer.write(trace, "bench", segments),
        csv_writer.write(trace, "bench", segments),
        csv_writer.write(trace, "bench", elapsed=True),
        fit_writer.wrap(file_id() + with_developer_field(EARLY, RATES, "heart_rate", own_rates=RATES)),
        fit_writer.wrap(file_id() + with_developer_field(EARLY, RATES, "heart_rate")),
        fit_writer.wrap(file_id() + with_compressed_times(EARLY, RATES)),
        b"# start: 2026-03-01T06:30:00Z\nRR (ms)\n" + b"\n".join(b"%d" % (700 + rate) for rate in RATES),
        b"\n".join(b"2026-03-01T06:30:%02dZ 1E %02X 64 00 00 02 F6 01" % (i, r) for i, r in enumerate(RATES)),
    )


GOOD = good_files()


def assert_read_or_refused(data):
    found: Reading | UnreadableFile
    try:
        found = read(data, now=NOW)
    except UnreadableFile as refused:
        found = refused
    assert isinstance(found, Reading) or "stopped the reader" not in found.what, repr(found.__cause__)


@PLAIN
@given(st.binary(max_size=400))
def test_random_bytes_are_read_or_refused_and_nothing_else(data):
    assert_read_or_refused(data)


@PLAIN
@given(st.binary(max_size=400))
def test_random_messages_in_a_sound_frame_are_read_or_refused_and_nothing_else(messages):
    assert_read_or_refused(fit_writer.wrap(messages))


@PLAIN
@given(st.text(alphabet='0123456789:;,.-TZ#\n\t "hrtimestampbpm', max_size=300))
@example("time,hr\n")
@example("time,hr\n,\n")
def test_random_text_is_read_or_refused_and_nothing_else(characters):
    assert_read_or_refused(characters.encode())


@PLAIN
@given(st.text(alphabet='0123456789abcdefxTZ:-.,; \n"', max_size=200))
@example("2026-03-01T06:30:00Z,00 4B\n2026-03-01T06:30:00Z,00 4B")
@example("9999-12-31T23:59:59Z 00 4B\n0001-01-01T00:00:00Z 00 4B")
@example("0,812\n" * 12)
def test_random_hexadecimal_text_is_read_or_refused_and_nothing_else(characters):
    assert_read_or_refused(characters.encode())
    assert_read_or_refused(b"# start: 2026-03-01T06:30:00Z\n" + characters.encode())


@PLAIN
@given(st.data())
def test_a_good_file_with_damage_is_read_or_refused_and_nothing_else(data):
    file = bytearray(data.draw(st.sampled_from(GOOD)))
    for _ in range(data.draw(st.integers(1, 8))):
        place = data.draw(st.integers(0, max(len(file) - 1, 0)))
        if not file:
            break
        match data.draw(st.sampled_from(["change", "remove", "insert", "cut"])):
            case "change":
                file[place] = data.draw(st.integers(0, 255))
            case "remove":
                del file[place : place + data.draw(st.integers(1, 20))]
            case "insert":
                file[place:place] = data.draw(st.binary(max_size=20))
            case "cut":
                file = file[: max(place, 16)]
    assert_read_or_refused(bytes(file))


@PLAIN
@given(st.data())
def test_damaged_messages_with_sound_checksums_are_read_or_refused_and_nothing_else(data):
    messages = bytearray(GOOD[0][14:-2])
    for _ in range(data.draw(st.integers(1, 5))):
        messages[data.draw(st.integers(0, min(len(messages) - 1, 400)))] = data.draw(st.integers(0, 255))
    assert_read_or_refused(fit_writer.wrap(bytes(messages)))
