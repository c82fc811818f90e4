"""Reading logs of Heart Rate Measurement values, characteristic 0x2A37 of the Bluetooth service."""

from zoneinfo import ZoneInfo

import numpy as np
import pytest

from tests.trace_builders import NOW, START
from trainlog.readers import CsvColumns, UnreadableFile, read
from trainlog.readers.bluetooth_log import Measurement, measurement

PAYLOADS = {
    "00 4B": Measurement(75, 0, None, ()),
    "06 8C": Measurement(140, 3, None, ()),
    "04 00": Measurement(0, 2, None, ()),
    "01 2C 01": Measurement(300, 0, None, ()),
    "10 3C 00 04": Measurement(60, 0, None, (1000.0,)),
    "16 48 52 03": Measurement(72, 3, None, (830.078125,)),
    "1E 78 64 00 00 02 F6 01": Measurement(120, 3, 100, (500.0, 490.234375)),
}
"""Regression values of our own, worked out from the published description of the characteristic."""


def log(*values, time="2026-03-01T06:30:{:02d}Z", between=" "):
    return "\n".join(f"{time.format(i)}{between}{value}" for i, value in enumerate(values)).encode()


@pytest.mark.parametrize("value", PAYLOADS)
def test_rate_contact_energy_and_intervals_follow_the_flags(value):
    assert measurement(bytes.fromhex(value)) == PAYLOADS[value]


@pytest.mark.parametrize("value", ["", "00", "01 2C", "08 4B 01", "10 3C 00", "1E 78 64 00 00 02 F6"])
def test_bytes_that_do_not_fit_the_flags_are_an_error(value):
    with pytest.raises(ValueError, match="flags"):
        measurement(bytes.fromhex(value))


@pytest.mark.parametrize(
    ("value", "between"),
    [
        ("16 48 52 03", " "),
        ("16485203", ","),
        ("16,48,52,03", ","),
        ("0x16 0x48 0x52 0x03", "\t"),
        ("0x16,0x48,0x52,0x03", ", "),
        ("16-48-52-03", ";"),
        ("(0x) 16:48:52:03".removeprefix("(0x) "), " "),
        ('"16 48 52 03"', ","),
    ],
)
def test_bytes_may_be_written_in_any_usual_way(value, between):
    reading = read(log(value, value, value, between=between), now=NOW)
    assert (reading.format, reading.trace.start) == ("bluetooth", START)
    assert reading.trace.heart_rate.tolist() == [72.0, 72.0, 72.0]


@pytest.mark.parametrize(
    "time",
    [
        "2026-03-01T06:30:{:02d}.000Z",
        "2026-03-01 06:30:{:02d}+00:00",
        "17723466{:02d}",
        "17723466{:02d}.0",
        "17723466{:02d}000",
    ],
)
def test_dates_and_unix_times_are_told_apart(time):
    assert read(log("00 4B", "00 4C", time=time), now=NOW).trace.start == START


def test_local_times_are_taken_in_the_zone_of_the_athlete():
    data = log("00 4B", "00 4C", time="2026-03-01T07:30:{:02d}")
    assert read(data, now=NOW, time_zone=ZoneInfo("Europe/Berlin")).trace.start == START


def test_elapsed_times_need_a_start_that_a_comment_or_the_athlete_gives():
    data = log("00 4B", "00 4C", time="{}")
    with pytest.raises(UnreadableFile, match="Enter the start"):
        read(data, now=NOW)
    assert read(data, now=NOW, csv_columns=CsvColumns(start=START)).trace.start == START
    assert read(b"# start: 2026-03-01T06:30:00Z\n" + data, now=NOW).trace.start == START


def test_values_without_skin_contact_count_as_not_recorded_with_a_note():
    reading = read(log("06 4B", "14 4B 00 03", "06 4D", "06 4E"), now=NOW)
    assert reading.trace.heart_rate.tolist() == [75.0, 76.0, 77.0, 78.0]
    assert len(reading.trace.rr_ms) == 0
    assert any("1 of 4 measurements" in note and "skin contact" in note for note in reading.notes)


def test_a_sensor_that_cannot_tell_contact_is_believed():
    assert read(log("02 4B", "00 4C"), now=NOW).trace.heart_rate.tolist() == [75.0, 76.0]


def test_intervals_are_oldest_first_and_the_last_ends_when_its_value_was_sent():
    value = "10 78 00 02 F6 01"
    trace = read(log("00 78", value, "00 78", "00 78"), now=NOW).trace
    assert trace.rr_ms.tolist() == pytest.approx([500.0, 490.2], abs=0.05)
    np.testing.assert_allclose(trace.rr_seconds, [1 - 0.490234375, 1.0])


def test_intervals_follow_one_another_even_where_values_are_sent_late():
    times = [0.0, 1.1, 2.7, 3.0, 4.2]
    text = "\n".join(f"{START.timestamp() + time:.1f},103C0004" for time in times)
    trace = read(text.encode(), now=NOW).trace
    np.testing.assert_allclose(np.diff(trace.rr_seconds), 1.0)


def test_intervals_stand_in_where_the_rate_is_zero():
    reading = read(log(*["10 00 00 03"] * 30), now=NOW)
    np.testing.assert_allclose(reading.trace.heart_rate[:-1], 80.0)


def test_a_first_line_of_words_and_comments_are_understood():
    data = b"# device: our belt\n# sport: row\ntime,value\n" + log("00 4B", "00 4C", between=",")
    reading = read(data, now=NOW)
    assert (reading.source_key, reading.segments[0].sport) == ("bluetooth:our belt", "row")


def test_a_broken_line_is_left_out_with_its_number():
    reading = read(log(*["00 4B"] * 58) + b"\n2026-03-01T06:30:58Z 00\n", now=NOW)
    assert any("line 59" in note for note in reading.notes)


def test_many_broken_lines_are_refused():
    with pytest.raises(UnreadableFile, match="hold no time with the bytes"):
        read(log(*["00 4B"] * 25, *["zz"] * 5), now=NOW)


def test_a_table_of_three_columns_of_numbers_is_no_log_of_values():
    with pytest.raises(UnreadableFile, match="No column"):
        read(log("80,72", "82,73", between=","), now=NOW)
    columns = CsvColumns(time="1", heart_rate="3")
    assert read(log("80,72", "82,73", between=","), now=NOW, csv_columns=columns).format == "csv"


def test_a_table_of_times_and_heart_rates_is_no_log_of_values():
    assert read(log("72", "73", between=","), now=NOW).format == "csv"
