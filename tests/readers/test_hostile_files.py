"""Files made to cost time or memory: refused by what they are. ``benchmarks/hostile_files.py`` measures."""

import struct

import pytest

from fixtures import fit_writer
from fixtures.fit_message_writer import BYTES, definition, file_id
from tests.trace_builders import NOW
from trainlog.readers import UnreadableFile, read

TRACK = b'<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>'


def unfinished(body):
    return struct.pack("<BBHI4sH", 14, 0x20, 2132, 2**31, b".FIT", 0) + body


HOSTILE = {
    "ten million lines": (b"1\n" * 10_000_000, "more than 600,000 samples"),
    "ten million ends of lines of another kind": (b"1\r" * 10_000_000, "more than 600,000 samples"),
    "a text of hundreds of megabytes": (b"1" * (33 * 2**20), "larger than 32 MB"),
    "a line without end": (b"time,hr\n" + b"1" * 200_000, "far too long for a row"),
    "a row of very many columns": (b"time,hr" + b"," * 2000 + b"\n1,2\n", "more than 1,000 columns"),
    "a quotation mark that never closes": (b'time,hr\n"' + b"1,120\n" * 50_000, "stray quotation mark"),
    "text that is no UTF-8": (b"\xff\xfe\x00\xd8" * 50, "no training file"),
    "entities within entities": (
        b'<!DOCTYPE g [<!ENTITY a "aa"><!ENTITY b "&a;&a;">]><gpx>&b;</gpx>',
        "declares a document type",
    ),
    "an entity of another file": (
        b'<!DOCTYPE g [<!ENTITY a SYSTEM "file:///etc/hostname">]><gpx>&a;</gpx>',
        "declares a document type",
    ),
    "elements without end": (b"<gpx>" + b"<a>" * 100_000, "nests deeper than 50"),
    "an element of very many attributes": (
        b"<gpx " + b"".join(b'a%d="1" ' % i for i in range(50_000)) + b"/>",
        "far too long for a track",
    ),
    "a text in XML without end": (TRACK + b"<trkpt><time>" + b"1" * 300_000, "far too long for a track"),
    "very many tracks": (b"<gpx>" + b"<trk></trk>" * 2000, "more than 1,000 tracks"),
    "a header that promises gigabytes": (unfinished(b""), "damaged before its first sample"),
    "a definition of the largest size": (
        fit_writer.wrap(file_id() + definition(1, 20, [(i, 255, BYTES) for i in range(255)])),
        "no heart rate",
    ),
    "messages of no bytes": (
        unfinished(definition(0, 20, []) + bytes(600_000)),
        "more than 500,000 messages",
    ),
    "more values than any workout has": (
        unfinished(definition(0, 20, [(i, 1, BYTES) for i in range(255)]) + bytes(256 * 20_000)),
        "5,000,000 values",
    ),
    "very many files in one": (fit_writer.wrap(file_id()) * 51, "More than 50 files"),
}


@pytest.mark.parametrize("name", HOSTILE)
def test_a_hostile_file_is_refused_by_what_it_is(name):
    data, words = HOSTILE[name]
    with pytest.raises(UnreadableFile, match=words) as refused:
        read(data, now=NOW)
    assert refused.value.remedy


def test_short_rows_below_a_wide_one_are_not_filled_up():
    data = b",".join([b"time", b"hr", *(b"x%d" % i for i in range(900))]) + b"\n"
    rows = b"".join(b"%d,120\n" % (1772346600 + i) for i in range(2000))
    assert read(data + rows, now=NOW).trace.seconds == 2000
