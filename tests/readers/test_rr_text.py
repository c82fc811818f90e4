"""Reading RR intervals as text."""

import numpy as np
import pytest

from tests.trace_builders import NOW, START
from trainlog.readers import CsvColumns, UnreadableFile, read

HEAD = "# start: 2026-03-01T06:30:00Z\n"


def steady(count=60, length=800):
    """Intervals that breathe by 10 ms."""
    return [length + round(10 * np.sin(i / 2)) for i in range(count)]


def lines(values, head=HEAD):
    return (head + "\n".join(str(value) for value in values) + "\n").encode()


def test_milliseconds_one_on_each_line_give_heart_rate_and_stay_available():
    reading = read(lines(steady()), now=NOW)
    assert (reading.format, reading.trace.start) == ("rr", START)
    np.testing.assert_array_equal(reading.trace.rr_ms, steady())
    np.testing.assert_allclose(reading.trace.heart_rate[1:], 75, atol=1.1)
    assert any("comes from RR intervals" in note for note in reading.notes)


def test_each_beat_lies_where_the_intervals_before_it_end():
    trace = read(lines(steady()), now=NOW).trace
    np.testing.assert_allclose(trace.rr_seconds, np.cumsum(steady()) / 1000)


@pytest.mark.parametrize(
    "text",
    [
        lines([f"{value / 1000:.3f}" for value in steady()]),
        lines([f"{value / 1000:.3f}".replace(".", ",") for value in steady()]),
        lines([f"{value / 1000:.3f}" for value in steady()], head=HEAD + "RR (s)\n"),
        lines([f"{value}," for value in steady()]),
        lines(steady(), head=HEAD + "RR intervals [ms]\n").replace(b"\n", b"\r\n"),
        lines(steady()).decode().encode("utf-16"),
    ],
)
def test_seconds_decimal_commas_names_line_ends_and_encodings_are_told_from_the_text(text):
    trace = read(text, now=NOW).trace
    np.testing.assert_allclose(trace.rr_ms, steady(), atol=1e-9)


def test_without_a_start_the_file_is_refused_saying_what_to_enter():
    with pytest.raises(UnreadableFile, match="does not say when") as refused:
        read(lines(steady(), head=""), now=NOW)
    assert refused.value.remedy.startswith("Enter the start")


def test_the_start_that_the_athlete_tells_rescues_the_file_and_goes_before_its_own():
    for head in ("", "# start: 2020-01-01T00:00:00Z\n"):
        trace = read(lines(steady(), head=head), now=NOW, csv_columns=CsvColumns(start=START)).trace
        assert trace.start == START


def test_comments_give_device_and_sport():
    reading = read(lines(steady(), head=HEAD + "# device: our belt\n# sport: run\n"), now=NOW)
    assert reading.source_key == "rr:our belt"
    assert [found.sport for found in reading.segments] == ["run"]


def test_a_missed_beat_is_corrected_in_the_heart_rate_and_kept_in_the_intervals():
    values = steady()
    missed = [*values[:30], values[30] + values[31], *values[32:]]
    reading = read(lines(missed), now=NOW)
    np.testing.assert_allclose(reading.trace.heart_rate[1:], 75, atol=1.5)
    assert reading.trace.rr_ms.max() > 1500
    assert any("1 of 59 (2%)" in note for note in reading.notes)


def test_a_long_silence_is_missing_and_a_short_one_bridged():
    short, long = (read(lines([*steady(), silence, *steady()]), now=NOW).trace for silence in (20e3, 60e3))
    assert np.isfinite(short.heart_rate[1:]).all()
    assert 55 <= np.isnan(long.heart_rate).sum() <= 61
    assert np.nanmin(long.heart_rate) > 70


def test_a_line_that_is_no_interval_is_left_out_with_its_number():
    reading = read(lines([*steady(80), "lost", *steady(20)]), now=NOW)
    assert any("line 82" in note for note in reading.notes)
    assert len(reading.trace.rr_ms) == 100


def test_many_lines_that_are_no_intervals_are_refused():
    with pytest.raises(UnreadableFile, match="hold no RR interval") as refused:
        read(lines([*steady(), *["lost"] * 5]), now=NOW)
    assert refused.value.where == "line 62"


def test_heart_rates_without_times_are_not_taken_for_intervals():
    with pytest.raises(UnreadableFile, match="no usual RR interval"):
        read(lines([120, 121, 122]), now=NOW)


def test_elapsed_seconds_with_a_heart_rate_are_not_taken_for_decimal_commas():
    rows = "\n".join(f"{second},120" for second in range(60))
    assert read((HEAD + rows).encode(), now=NOW).format == "csv"


def test_a_table_of_times_and_intervals_without_heart_rate_is_read_too():
    ends = np.cumsum(steady()) / 1000 + START.timestamp()
    rows = "\n".join(f"{end:.3f},{value}" for end, value in zip(ends, steady(), strict=True))
    reading = read(f"time,rr_ms\n{rows}\n".encode(), now=NOW)
    np.testing.assert_allclose(reading.trace.heart_rate[1:], 75, atol=1.1)
    assert any("comes from RR intervals" in note for note in reading.notes)
