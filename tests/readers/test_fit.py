"""Reading FIT activity files."""

import struct
from datetime import timedelta

import numpy as np
import pytest

from fixtures import fit_writer
from fixtures.fit_message_writer import BYTES, SINT32, UINT8, UINT32, file_id, message, sample
from tests.trace_builders import NOW, START, segment, with_rr, workout
from trainlog.readers import Clock, UnreadableFile, read

DEVICE = fit_writer.Device(product=7, serial=1234)
SECONDS_1989 = int(START.timestamp()) - fit_writer.EPOCH


def of(*messages):
    return fit_writer.wrap(b"".join(messages))


def test_what_was_written_is_read_second_by_second():
    trace = workout(gap=slice(100, 200))
    reading = read(fit_writer.write(trace, DEVICE), now=NOW)
    assert (reading.format, reading.trace.start) == ("fit", START)
    np.testing.assert_array_equal(reading.trace.heart_rate, trace.heart_rate)
    for name, values in trace.others.items():
        np.testing.assert_allclose(reading.trace.others[name], values, err_msg=name)
    assert reading.notes == ()


def test_the_device_is_known_by_its_numbers():
    assert read(fit_writer.write(workout(60), DEVICE), now=NOW).source_key == "fit:255/7/1234"


def test_a_heart_rate_sensor_connected_by_radio_is_part_of_the_source_and_noted():
    device = fit_writer.Device(product=7, serial=1234, heart_rate_sensor=55)
    reading = read(fit_writer.write(workout(60), device), now=NOW)
    assert reading.source_key == "fit:255/7/1234+hr:55"
    assert any("may come from it" in note for note in reading.notes)


def test_sessions_become_segments_with_their_sport():
    trace = workout(600)
    segments = (segment(trace, "strength_training", 0, 300), segment(trace, "hiit", 300, 600))
    assert read(fit_writer.write(trace, DEVICE, segments), now=NOW).segments == segments


def test_rr_intervals_keep_their_length_and_lie_near_their_second():
    trace = with_rr(workout(120), interval_ms=600)
    found = read(fit_writer.write(trace, DEVICE), now=NOW).trace
    np.testing.assert_array_equal(found.rr_ms, trace.rr_ms)
    assert np.abs(found.rr_seconds - trace.rr_seconds).max() <= 2.0


def test_a_file_without_positions_has_a_clock_of_unknown_setting():
    assert read(fit_writer.write(workout(60), DEVICE), now=NOW).clock is Clock.UNKNOWN


def positioned():
    samples = [
        message(
            1,
            20,
            (253, UINT32, SECONDS_1989 + i),
            (3, UINT8, 120),
            (0, SINT32, 2**29 + i),
            (1, SINT32, i),
        )
        for i in range(5)
    ]
    return of(file_id(), *samples)


def test_positions_mean_a_clock_set_by_satellite():
    assert read(positioned(), now=NOW).clock is Clock.SYNCHRONISED


def test_positions_are_kept_only_when_asked_for():
    assert "latitude" not in read(positioned(), now=NOW).trace.others
    kept = read(positioned(), now=NOW, keep_positions=True).trace
    np.testing.assert_allclose(kept.others["latitude"], 45.0, atol=1e-6)


def test_samples_every_ten_seconds_are_joined_to_one_a_second():
    file = of(file_id(), *(sample(SECONDS_1989 + i, 100 + i) for i in range(0, 60, 10)))
    trace = read(file, now=NOW).trace
    np.testing.assert_allclose(trace.heart_rate, 100.0 + np.arange(51))


def test_two_chained_workouts_are_read_one_after_the_other():
    first = workout(60)
    second = workout(60, start=START + timedelta(seconds=60))
    reading = read(fit_writer.write(second, DEVICE) + fit_writer.write(first, DEVICE), now=NOW)
    np.testing.assert_array_equal(
        reading.trace.heart_rate, np.concatenate([first.heart_rate, second.heart_rate])
    )
    assert any("chained" in note for note in reading.notes)


def test_stored_beats_stand_in_where_samples_have_no_heart_rate():
    """Beats 1 s apart at 60 bpm: the second message gives the low 12 bits of a 1/1024 s counter."""
    samples = [message(1, 20, (253, UINT32, SECONDS_1989 + i), (4, UINT8, 80)) for i in range(9)]
    counters = [(1024 * (100 + i)) % 4096 for i in range(1, 9)]
    packed = b"".join(
        bytes([a & 0xFF, a >> 8 | (b & 0x0F) << 4, b >> 4])
        for a, b in zip(counters[::2], counters[1::2], strict=True)
    )
    file = of(
        file_id(),
        *samples,
        message(2, 132, (253, UINT32, SECONDS_1989), (9, UINT32, 1024 * 100), (6, UINT8, 60)),
        message(3, 132, (10, BYTES, packed), (6, UINT8, tuple(range(61, 69)))),
    )
    reading = read(file, now=NOW)
    np.testing.assert_allclose(reading.trace.heart_rate, 60.0 + np.arange(9))
    assert any("stored in the sensor" in note for note in reading.notes)


@pytest.mark.parametrize(
    ("kind", "words"), [(2, "device settings"), (5, "workout plan"), (9, "weight"), (32, "monitoring")]
)
def test_a_file_that_is_no_workout_is_refused_by_what_it_holds(kind, words):
    with pytest.raises(UnreadableFile, match=words):
        read(of(file_id(kind)), now=NOW)


def test_an_activity_without_heart_rate_is_refused_as_such():
    file = of(file_id(), *(sample(SECONDS_1989 + i, 0xFF) for i in range(10)))
    with pytest.raises(UnreadableFile, match="no heart rate"):
        read(file, now=NOW)


def test_a_clock_that_was_never_set_is_refused_as_such():
    file = of(file_id(), *(sample(1000 + i, 120) for i in range(10)))
    with pytest.raises(UnreadableFile, match="clock of the device was not set"):
        read(file, now=NOW)


def test_millions_of_empty_messages_are_refused_rather_than_decoded():
    body = struct.pack("<BBBHB", 0x40, 0, 0, 20, 0) + bytes(1_100_000)
    with pytest.raises(UnreadableFile, match="more than 500,000 messages"):
        read(struct.pack("<BBHI4sH", 14, 0x20, 2132, len(body), b".FIT", 0) + body + b"\0\0", now=NOW)
