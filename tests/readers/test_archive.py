"""Taking archives apart within bounds."""

import gzip
import io
import struct
import zipfile

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.trace_builders import NOW
from trainlog.readers import UnreadableFile, archive, read, unpack

FIRST, SECOND = b"time,hr\n1772346600,120\n1772346601,121\n", b"other"


def zipped(members, method=zipfile.ZIP_DEFLATED):
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w", method) as packed:
        for name, data in members:
            packed.writestr(name, data)
    return file.getvalue()


def refusal(data, name=""):
    with pytest.raises(UnreadableFile) as refused:
        unpack(data, name)
    assert refused.value.remedy
    return str(refused.value)


def test_each_file_of_a_zip_stands_for_itself_in_order():
    assert unpack(zipped([("a.csv", FIRST), ("b.fit", SECOND)])) == [("a.csv", FIRST), ("b.fit", SECOND)]


def test_a_file_packed_with_gzip_loses_the_ending_of_its_name():
    assert unpack(gzip.compress(FIRST), "ride.csv.gz") == [("ride.csv", FIRST)]
    assert unpack(gzip.compress(FIRST[:10]) + gzip.compress(FIRST[10:]), "x")[0].data == FIRST


def test_a_file_that_is_no_archive_stands_for_itself():
    assert unpack(FIRST, "ride.csv") == [("ride.csv", FIRST)]


def test_files_packed_with_gzip_inside_a_zip_are_unpacked_too():
    assert unpack(zipped([("a.fit.gz", gzip.compress(SECOND))])) == [("a.fit", SECOND)]


@pytest.mark.parametrize(
    ("name", "label"),
    [
        ("../../etc/passwd", "passwd"),
        ("/etc/passwd", "passwd"),
        ("..\\..\\system.ini", "system.ini"),
        ("C:\\x\\ride.fit", "ride.fit"),
        ("in a folder/ride.fit", "ride.fit"),
        ("bad\x07bell\nline.fit", "badbellline.fit"),
        ("x" * 400 + ".fit", "x" * 251 + ".fit"),
    ],
)
def test_names_are_labels_without_folders_or_control_characters(name, label):
    assert unpack(zipped([(name, FIRST)]))[0].name == label


def test_folders_and_what_only_describes_them_are_passed_over():
    members = [("run/", b""), ("run/a.fit", FIRST), ("__MACOSX/run/._a.fit", b"x"), ("run/.DS_Store", b"x")]
    assert unpack(zipped(members)) == [("a.fit", FIRST)]


def test_an_archive_inside_an_archive_stays_packed_and_is_refused_when_read():
    inner = zipped([("a.csv", FIRST)])
    files = unpack(zipped([("inner.zip", inner), ("a.csv", FIRST)]))
    assert files == [("inner.zip", inner), ("a.csv", FIRST)]
    with pytest.raises(UnreadableFile, match="packed archive"):
        read(files[0].data, now=NOW)
    assert read(files[1].data, now=NOW).trace.seconds == 2


def test_a_locked_archive_is_refused_saying_to_pack_it_without_a_password():
    data = bytearray(zipped([("a.csv", FIRST)]))
    data[6] |= 1
    data[data.index(b"PK\x01\x02") + 8] |= 1
    assert "without one" in refusal(bytes(data))


@pytest.mark.parametrize("method", [zipfile.ZIP_BZIP2, zipfile.ZIP_LZMA])
def test_a_rare_method_of_packing_is_refused(method):
    assert "rare" in refusal(zipped([("a.csv", FIRST)], method))


def test_an_archive_without_files_is_refused():
    assert "no files" in refusal(zipped([]))
    assert "no files" in refusal(zipped([("folder/", b"")]))


@pytest.mark.parametrize("cut", [30, 60, 120])
def test_an_archive_cut_short_is_refused(cut):
    assert "damaged" in refusal(zipped([("a.csv", FIRST)])[:cut])
    assert "damaged or cut short" in refusal(gzip.compress(FIRST)[: -cut // 4])


def test_an_archive_whose_checksum_is_wrong_is_refused():
    data = bytearray(zipped([("a.csv", FIRST)], zipfile.ZIP_STORED))
    data[data.index(b"time,hr")] ^= 1
    assert "damaged" in refusal(bytes(data))


def test_a_file_that_unpacks_to_a_multiple_no_recording_has_is_refused():
    bomb = bytes(8 * 2**20)
    assert "200 times" in refusal(zipped([("a.csv", bomb)]))
    assert "200 times" in refusal(gzip.compress(bomb))
    assert "200 times" in refusal(zipped([("a.csv.gz", gzip.compress(bomb))]))


def test_a_false_size_in_the_archive_does_not_help_a_bomb():
    data = bytearray(zipped([("a.csv", bytes(8 * 2**20))]))
    for place in (22, data.index(b"PK\x01\x02") + 24):
        data[place : place + 4] = struct.pack("<I", 10)
    assert refusal(bytes(data))


def test_the_files_of_an_archive_together_have_a_limit(monkeypatch):
    monkeypatch.setattr(archive, "LARGEST_UNPACKED", 100)
    members = [(f"{i}.csv", FIRST) for i in range(4)]
    assert "more than" in refusal(zipped(members))
    assert "more than" in refusal(gzip.compress(FIRST * 4))
    assert "more than" in refusal(zipped([(name + ".gz", gzip.compress(data)) for name, data in members]))


def test_the_files_of_an_archive_have_a_largest_number():
    assert "1,000 files" in refusal(b"PK\x03\x04" + b"PK\x01\x02" * 2000)
    assert "joined into one" in refusal(gzip.compress(b"") * 101)


@pytest.mark.parametrize(
    "data",
    [
        zipped([("a.csv", FIRST)]),
        gzip.compress(FIRST),
        b"7z\xbc\xaf\x27\x1c" + bytes(60),
        b"Rar!\x1a\x07" + bytes(60),
        bytes(257) + b"ustar" + bytes(250),
    ],
    ids=["zip", "gzip", "7z", "rar", "tar"],
)
def test_what_reaches_the_reader_still_packed_is_refused_saying_to_unpack_it(data):
    with pytest.raises(UnreadableFile, match="Unpack it"):
        read(data, now=NOW)


PACKED = (zipped([("a.csv", FIRST), ("b.fit.gz", gzip.compress(SECOND))]), gzip.compress(FIRST))


@settings(deadline=None, max_examples=200, derandomize=True)
@given(st.sampled_from(PACKED), st.lists(st.tuples(st.integers(0, 300), st.integers(0, 255)), max_size=6))
def test_a_damaged_archive_is_unpacked_or_refused_and_nothing_else(data, changes):
    damaged = bytearray(data)
    for place, value in changes:
        damaged[place % len(damaged)] = value
    try:
        files = unpack(bytes(damaged))
    except UnreadableFile:
        return
    assert files
