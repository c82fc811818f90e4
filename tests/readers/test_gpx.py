"""Reading GPX tracks."""

from datetime import timedelta

import numpy as np
import pytest

from fixtures import gpx_writer
from tests.trace_builders import NOW, START, segment, workout
from trainlog.readers import Clock, UnreadableFile, read
from trainlog.trace import Trace


def gpx(points, *, head="", kind="", namespace='xmlns="http://www.topografix.com/GPX/1/1"'):
    track = f"<trk>{kind}<trkseg>{points}</trkseg></trk>"
    return f'{head}<gpx version="1.1" creator="bench" {namespace}>{track}</gpx>'.encode()


def point(second, extension, *, time=None, position='lat="0" lon="0"'):
    time = time or f"{START + timedelta(seconds=second):%Y-%m-%dT%H:%M:%SZ}"
    return f"<trkpt {position}><time>{time}</time><extensions>{extension}</extensions></trkpt>"


def test_what_was_written_is_read_second_by_second():
    trace = workout(gap=slice(100, 200))
    reading = read(gpx_writer.write(trace, "our bench"), now=NOW)
    assert (reading.format, reading.trace.start) == ("gpx", START)
    np.testing.assert_array_equal(reading.trace.heart_rate, trace.heart_rate)
    for name, values in trace.others.items():
        np.testing.assert_allclose(reading.trace.others[name], values, err_msg=name)


@pytest.mark.parametrize(
    "extension",
    [
        "<hr>120</hr>",
        '<a:hr xmlns:a="urn:one">120</a:hr>',
        '<b:Point xmlns:b="urn:two"><b:inner><b:hr>120</b:hr></b:inner></b:Point>',
        '<hr xmlns="http://www.cluetrust.com/XML/GPXDATA/1/0">120</hr>',
    ],
)
def test_heart_rate_is_told_by_local_name_in_any_namespace_at_any_depth(extension):
    trace = read(gpx("".join(point(i, extension) for i in range(5))), now=NOW).trace
    assert trace.heart_rate.tolist() == [120.0] * 5


def test_the_creator_names_the_source():
    assert read(gpx_writer.write(workout(60), "our bench"), now=NOW).source_key == "gpx:our bench"


def test_tracks_become_segments_with_their_type_in_lower_case():
    trace = workout(600)
    segments = (segment(trace, "running", 0, 300), segment(trace, "strength", 300, 600))
    reading = read(gpx_writer.write(trace, "bench", segments).replace(b"running", b"Running"), now=NOW)
    assert reading.segments == segments


def test_tracks_in_the_wrong_order_are_put_in_order():
    trace = workout(200)
    late, early = segment(trace, "late", 100, 200), segment(trace, "early", 0, 100)
    reading = read(gpx_writer.write(trace, "bench", [late, early]), now=NOW)
    np.testing.assert_array_equal(reading.trace.heart_rate, trace.heart_rate)
    assert [found.sport for found in reading.segments] == ["early", "late"]


def test_times_without_a_zone_are_taken_as_utc_with_a_note():
    points = "".join(point(0, "<hr>120</hr>", time=f"2026-03-01T06:30:0{i}") for i in range(5))
    reading = read(gpx(points), now=NOW)
    assert reading.trace.start == START
    assert any("UTC" in note for note in reading.notes)


def test_points_that_move_mean_a_clock_set_by_satellite():
    trace = workout(60)
    moving = Trace(START, trace.heart_rate, {"latitude": np.arange(60) / 1e4, "longitude": np.zeros(60)})
    assert read(gpx_writer.write(moving, "bench"), now=NOW).clock is Clock.SYNCHRONISED
    assert read(gpx_writer.write(trace, "bench"), now=NOW).clock is Clock.UNKNOWN


def test_positions_are_kept_only_when_asked_for():
    file = gpx_writer.write(workout(60), "bench")
    assert "latitude" not in read(file, now=NOW).trace.others
    assert "latitude" in read(file, now=NOW, keep_positions=True).trace.others


def test_a_point_with_an_unreadable_value_is_noted_and_bridged():
    points = "".join(point(i, f"<hr>{'x' if i == 2 else 120}</hr>") for i in range(5))
    reading = read(gpx(points), now=NOW)
    assert reading.trace.heart_rate.tolist() == [120.0] * 5
    assert any("1 values" in note for note in reading.notes)


def test_a_document_type_is_refused():
    entity = '<!DOCTYPE gpx [<!ENTITY a "b"><!ENTITY c "&a;&a;&a;&a;">]>'
    with pytest.raises(UnreadableFile, match="document type"):
        read(gpx(point(0, "<hr>&c;</hr>"), head=entity), now=NOW)


def test_deep_nesting_is_refused():
    with pytest.raises(UnreadableFile, match="nests deeper"):
        read(gpx(point(0, "<a>" * 5000 + "<hr>120</hr>" + "</a>" * 5000)), now=NOW)


def test_broken_xml_is_refused_with_its_line():
    with pytest.raises(UnreadableFile) as refused:
        read(b"<gpx>\n<trk>\n<trkseg></trk></gpx>", now=NOW)
    assert refused.value.where == "line 3"


def test_other_xml_is_refused():
    with pytest.raises(UnreadableFile, match="not a GPX track"):
        read(b"<html><body>no</body></html>", now=NOW)


def test_a_track_without_heart_rate_is_refused():
    with pytest.raises(UnreadableFile, match="no heart rate"):
        read(gpx(point(0, "<cad>80</cad>") + point(1, "<cad>80</cad>")), now=NOW)


def test_a_route_without_track_is_refused():
    with pytest.raises(UnreadableFile, match="no track points"):
        read(b'<gpx version="1.1"><rte><rtept lat="0" lon="0"/></rte></gpx>', now=NOW)
