"""Reading delimited text."""

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from fixtures import csv_writer
from tests.trace_builders import NOW, START, segment, workout
from trainlog.readers import CsvColumns, UnreadableFile, layout_key, read

UNIX = int(START.timestamp())


def table(*rows, head="time,hr"):
    return "\n".join([head, *rows]).encode()


def heart_rate(data, **options):
    return read(data, now=NOW, **options).trace.heart_rate.tolist()


@pytest.mark.parametrize("elapsed", [False, True])
def test_what_was_written_is_read_second_by_second(elapsed):
    trace = workout(gap=slice(100, 200))
    reading = read(csv_writer.write(trace, "bench", elapsed=elapsed), now=NOW)
    assert (reading.format, reading.trace.start) == ("csv", START)
    np.testing.assert_array_equal(reading.trace.heart_rate, trace.heart_rate)
    for name, values in trace.others.items():
        np.testing.assert_allclose(reading.trace.others[name], values, err_msg=name)


@pytest.mark.parametrize(
    "times",
    [
        ("2026-03-01T06:30:00Z", "2026-03-01T06:30:01Z", "2026-03-01T06:30:02Z"),
        ("2026-03-01 07:30:00+01:00", "2026-03-01 07:30:01+01:00", "2026-03-01 07:30:02+01:00"),
        (f"{UNIX}", f"{UNIX + 1}", f"{UNIX + 2}"),
        (f"{UNIX}000", f"{UNIX + 1}000", f"{UNIX + 2}000"),
    ],
)
def test_dates_and_unix_times_are_told_apart(times):
    reading = read(table(*(f"{time},{120 + i}" for i, time in enumerate(times))), now=NOW)
    assert reading.trace.start == START
    assert reading.trace.heart_rate.tolist() == [120.0, 121.0, 122.0]


@pytest.mark.parametrize(
    "times", [("0", "1", "2"), ("0:00", "0:01", "0:02"), ("0:00:00", "0:00:01", "0:00:02")]
)
def test_elapsed_times_count_from_the_start_that_a_comment_gives(times):
    rows = "\n".join(f"{time},120" for time in times)
    reading = read(f"# start: 2026-03-01T06:30:00Z\ntime,hr\n{rows}\n".encode(), now=NOW)
    assert (reading.trace.start, reading.trace.seconds) == (START, 3)


def test_elapsed_times_count_from_the_start_that_the_athlete_gives():
    reading = read(table("0,120", "1,121"), now=NOW, csv_columns=CsvColumns(start=START))
    assert reading.trace.start == START


def test_elapsed_times_without_a_start_are_refused_saying_what_to_enter():
    with pytest.raises(UnreadableFile, match="Enter the start") as refused:
        read(table("0,120", "1,121"), now=NOW)
    assert "# start: 2026-03-01T06:30:00Z" in refused.value.remedy


def test_elapsed_milliseconds_are_told_by_the_header():
    data = table("0,120", "1000,121", "2000,122", head="time_ms,hr")
    assert heart_rate(data, csv_columns=CsvColumns(start=START)) == [120.0, 121.0, 122.0]


def test_local_times_are_taken_in_the_zone_of_the_athlete_with_a_note():
    data = table("2026-03-01T07:30:00,120", "2026-03-01T07:30:01,121")
    reading = read(data, now=NOW, time_zone=ZoneInfo("Europe/Berlin"))
    assert reading.trace.start == START
    assert any("Europe/Berlin" in note for note in reading.notes)


def test_local_times_run_on_through_the_hour_that_autumn_repeats():
    data = table("2025-10-26T02:59:59,120", "2025-10-26T02:00:00,121", "2025-10-26T02:00:01,122")
    reading = read(data, now=NOW, time_zone=ZoneInfo("Europe/Berlin"))
    assert reading.trace.start == datetime(2025, 10, 26, 0, 59, 59, tzinfo=UTC)
    assert reading.trace.heart_rate.tolist() == [120.0, 121.0, 122.0]


@pytest.mark.parametrize("separator", [",", ";", "\t"])
def test_any_usual_separator_will_do(separator):
    rows = [f"{UNIX + i}{separator}{120 + i}" for i in range(3)]
    assert heart_rate(table(*rows, head=f"Timestamp{separator}Heart rate (bpm)")) == [120.0, 121.0, 122.0]


def test_decimal_commas_are_read_between_semicolons():
    assert heart_rate(
        table("0,0;120,5", "1,0;121,5", head="sec;bpm"), csv_columns=CsvColumns(start=START)
    ) == [
        120.5,
        121.5,
    ]


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16"])
def test_usual_encodings_are_read(encoding):
    assert heart_rate(table(f"{UNIX},120", f"{UNIX + 1},121").decode().encode(encoding)) == [120.0, 121.0]


def test_text_that_is_not_utf8_is_read_as_latin1_with_a_note():
    data = table(f"{UNIX},120,gut", f"{UNIX + 1},121,müde", head="time,hr,Gefühl").decode().encode("latin-1")
    reading = read(data, now=NOW)
    assert any("Latin-1" in note for note in reading.notes)


def test_columns_the_header_does_not_tell_can_be_chosen_by_name_or_number():
    data = table(f"{UNIX},7,120", f"{UNIX + 1},7,121", head="when,what,rate")
    assert heart_rate(data, csv_columns=CsvColumns(time="When", heart_rate="3")) == [120.0, 121.0]


def test_columns_that_cannot_be_told_are_refused_by_naming_those_found():
    with pytest.raises(UnreadableFile, match="found: when, rate"):
        read(table(f"{UNIX},120", head="when,rate"), now=NOW)


def test_a_column_that_does_not_exist_is_refused():
    with pytest.raises(UnreadableFile, match="no column “puls”"):
        read(table(f"{UNIX},120"), now=NOW, csv_columns=CsvColumns(heart_rate="puls"))


def test_two_columns_without_a_header_are_time_and_heart_rate():
    assert heart_rate(f"{UNIX},120\n{UNIX + 1},121\n".encode()) == [120.0, 121.0]


def test_a_date_and_a_clock_in_two_columns_belong_together():
    data = table("2026-03-01,06:30:00,120", "2026-03-01,06:30:01,121", head="date,time,hr")
    assert read(data, now=NOW).trace.start == START


def test_kilometres_an_hour_become_metres_a_second():
    data = table(f"{UNIX},120,36", f"{UNIX + 1},121,36", head="time,hr,speed (km/h)")
    np.testing.assert_allclose(read(data, now=NOW).trace.others["speed"], 10.0)


def test_rr_intervals_in_seconds_become_milliseconds():
    data = table(f"{UNIX},75,0.8", f"{UNIX + 1},75,0.81", head="time,hr,rr")
    np.testing.assert_allclose(read(data, now=NOW).trace.rr_ms, [800.0, 810.0])


def test_comments_give_device_and_sport():
    trace = workout(60)
    reading = read(csv_writer.write(trace, "our bench", [segment(trace, "run")]), now=NOW)
    assert reading.source_key == "csv:our bench"
    assert reading.segments == (segment(trace, "run"),)


def test_a_column_of_sports_gives_one_segment_for_each_stretch():
    trace = workout(60)
    segments = (segment(trace, "lift", 0, 30), segment(trace, "row", 30, 60))
    assert read(csv_writer.write(trace, "bench", segments), now=NOW).segments == segments


def test_without_a_device_the_layout_of_the_columns_stands_for_the_source():
    first, again = (read(table(f"{UNIX},120", f"{UNIX + i},121"), now=NOW) for i in (1, 2))
    other = read(table(f"{UNIX};120", f"{UNIX + 1};121", head="time;bpm"), now=NOW)
    assert first.source_key.startswith("csv:")
    assert first.source_key == again.source_key != other.source_key


def test_a_heart_rate_that_is_no_number_counts_as_missing_with_its_line():
    reading = read(table(f"{UNIX},120", f"{UNIX + 1},n/a", f"{UNIX + 2},122"), now=NOW)
    assert reading.trace.heart_rate.tolist() == [120.0, 121.0, 122.0]
    assert any("line 3" in note for note in reading.notes)


def test_times_that_cannot_be_read_are_refused_with_their_line():
    with pytest.raises(UnreadableFile) as refused:
        read(table("2026-03-01T06:30:00Z,120", "01.03.26 06:30,121"), now=NOW)
    assert refused.value.where == "line 3"


def test_a_text_of_too_many_lines_is_refused():
    with pytest.raises(UnreadableFile, match="more than 600,000 samples"):
        read(b"time,hr\n" + b"1,2\n" * 600_001, now=NOW)


@pytest.mark.parametrize(
    "data", [b"\x00\x01\x02\x03" * 50, b"\x89PNG\r\n\x1a\n" + bytes(50), b"%PDF-1.7\n\xff\x00"]
)
def test_bytes_that_are_no_text_are_refused(data):
    with pytest.raises(UnreadableFile, match="no training file"):
        read(data, now=NOW)


def test_a_packed_archive_is_refused_saying_to_unpack_it():
    with pytest.raises(UnreadableFile, match="Unpack it"):
        read(b"PK\x03\x04" + bytes(60), now=NOW)


def test_a_start_without_a_zone_is_a_mistake_of_the_caller():
    with pytest.raises(ValueError, match="time zone"):
        CsvColumns(start=START.replace(tzinfo=None))


@pytest.mark.parametrize("times", [("0:00", "0:01", "1:02"), ("0:00:00", "0:00:01", "0:01:02")])
def test_elapsed_minutes_and_seconds_run_past_the_minute(times):
    rows = [f"{time},{120 + i}" for i, time in enumerate(times)]
    trace = read(table(*rows), now=NOW, csv_columns=CsvColumns(start=START)).trace
    assert (trace.seconds, trace.heart_rate[-1]) == (63, 122.0)


def test_decimal_commas_between_commas_are_read_from_quotation_marks():
    data = table('"0,0","120,5"', '"1,0","121,5"', head="sec,bpm")
    assert heart_rate(data, csv_columns=CsvColumns(start=START)) == [120.5, 121.5]


def test_a_start_that_is_told_goes_before_times_of_the_file_with_a_note():
    data = table(f"{UNIX - 9999},120", f"{UNIX - 9998},121")
    reading = read(data, now=NOW, csv_columns=CsvColumns(start=START))
    assert reading.trace.start == START
    assert any("when you said" in note for note in reading.notes)


def local(*times, zone="Europe/Berlin"):
    rows = [f"2025-10-26T{time},{120 + i}" for i, time in enumerate(times)]
    return read(table(*rows), now=NOW, time_zone=ZoneInfo(zone))


def utc(hour, minute):
    return datetime(2025, 10, 26, hour, minute, tzinfo=UTC)


def test_a_local_hour_that_autumn_repeats_is_its_first_pass_with_a_note():
    reading = local("02:10:00", "02:10:01")
    assert reading.trace.start == utc(0, 10)
    assert any("hour came twice; the first was assumed" in note for note in reading.notes)


def test_a_local_hour_that_autumn_repeats_is_its_second_pass_where_the_clock_then_runs_on():
    reading = local("02:59:58", "02:59:59", "03:00:00", "03:00:01")
    assert (reading.trace.start, reading.trace.seconds) == (utc(1, 59).replace(second=58), 4)


def test_a_local_hour_that_autumn_repeats_is_its_first_pass_where_the_clock_ran_up_to_it():
    reading = local("01:59:59", "02:00:00", "02:00:01")
    assert (reading.trace.start, reading.trace.seconds) == (datetime(2025, 10, 25, 23, 59, 59, tzinfo=UTC), 3)


def test_local_times_run_on_through_both_passes_and_out_of_them():
    times = [f"{hour:02d}:{minute:02d}:00" for hour in (1, 2, 2, 3) for minute in range(60)]
    reading = local(*times)
    assert reading.trace.start == datetime(2025, 10, 25, 23, 0, tzinfo=UTC)
    assert reading.trace.end == utc(2, 59).replace(second=1)


def test_local_times_run_on_through_the_hour_that_spring_leaves_out():
    rows = [f"2025-03-30T{time},120" for time in ("01:59:58", "01:59:59", "03:00:00", "03:00:01")]
    assert read(table(*rows), now=NOW, time_zone=ZoneInfo("Europe/Berlin")).trace.seconds == 4


def test_a_zone_whose_clocks_change_by_half_an_hour_is_followed():
    rows = [f"2025-04-06T{time},120" for time in ("01:59:59", "01:30:00", "01:30:01")]
    assert read(table(*rows), now=NOW, time_zone=ZoneInfo("Australia/Lord_Howe")).trace.seconds == 3


def test_the_key_of_a_layout_is_that_of_its_names_and_separator():
    first, again = (layout_key(table(f"{UNIX},120", f"{UNIX + i},121", head="when,rate")) for i in (1, 2))
    assert first == again
    assert len(first) == 12
    others = (
        table(f"{UNIX};120", head="when;rate"),
        table(f"{UNIX},120", head="when,speed"),
        f"{UNIX},120,1\n{UNIX},120,1\n".encode(),
        f"{UNIX},120,1,1\n{UNIX},120,1,1\n".encode(),
    )
    assert len({first, *map(layout_key, others)}) == 5


@pytest.mark.parametrize(
    "data", [b"", b"\x00\x01", b"PK\x03\x04", b"<gpx/>", b"800\n810\n820\n", b"2026-03-01T06:30:00Z 00 4B\n"]
)
def test_a_file_whose_columns_need_no_telling_has_no_key_of_a_layout(data):
    assert layout_key(data) == ""


def test_columns_remembered_for_a_layout_read_every_file_of_it():
    files = [table(f"{UNIX + i},7,120", f"{UNIX + i + 1},7,121", head="when,what,rate") for i in (0, 60)]
    remembered = {layout_key(files[0]): CsvColumns(time="when", heart_rate="rate")}
    assert heart_rate(files[1], csv_columns=remembered[layout_key(files[1])]) == [120.0, 121.0]
