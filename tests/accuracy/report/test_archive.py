"""The archive: everything in it said, data with all digits, the same bytes for the same report."""

import csv
import io
import zipfile
from xml.etree import ElementTree

import pytest

from accuracy.report.archive import archive_of
from accuracy.report.drawings import pictures_of
from accuracy.report.reading import CARE
from tests.accuracy.report.documents import document, figure, table


@pytest.fixture(scope="module")
def drawn():
    return pictures_of(document())


def packed(made, drawn):
    return archive_of(made, drawn, b"<!doctype html>", b"%PDF-1.7")


@pytest.fixture
def archive(drawn):
    return zipfile.ZipFile(io.BytesIO(packed(document(), drawn)))


def rows(archive, name):
    return list(csv.reader(io.StringIO(archive.read(name).decode())))


def test_it_holds_both_forms_every_figure_twice_and_every_table(archive):
    assert archive.testzip() is None
    assert sorted(archive.namelist()) == [
        "README.txt",
        "data/paired-traces.csv",
        "data/sessions.csv",
        "figures/density.png",
        "figures/density.svg",
        "figures/overlay-1.png",
        "figures/overlay-1.svg",
        "report.html",
        "report.pdf",
        "summary.txt",
    ]


def test_figures_are_files_of_their_kind(archive):
    assert archive.read("figures/density.svg").startswith(b'<svg xmlns="http://www.w3.org/2000/svg"')
    assert archive.read("figures/density.png").startswith(b"\x89PNG")


def test_a_drawing_says_by_itself_what_it_is_and_shows(archive):
    drawing = ElementTree.fromstring(archive.read("figures/overlay-1.svg"))
    assert drawing.attrib["role"] == "img"
    title, words = drawing[:2]
    assert (title.text, words.text) == (figure().caption, figure().alternative)
    assert not [one for one in drawing.iter() if one is not drawing and "role" in one.attrib]


def test_data_has_names_for_programs_and_more_digits_than_the_text(archive):
    assert rows(archive, "data/sessions.csv") == [
        ["session", "reference_mean_bpm", "bias_bpm", "epochs"],
        ["A 1", "141.26", "-6.43215678", "720"],
        ["A 2", "133", "", "700"],
    ]


def test_a_text_that_a_table_program_would_take_for_a_formula_gets_an_apostrophe(drawn):
    nasty = document(data=(table("nasty", rows=(("=1+1", -1.0, None, 1),)),))
    archive = zipfile.ZipFile(io.BytesIO(packed(nasty, drawn)))
    assert rows(archive, "data/nasty.csv")[1] == ["'=1+1", "-1", "", "1"]


def test_of_several_sensors_the_summary_names_each_before_its_findings(drawn):
    found = (("Sensor A", ("It read low.",)), ("Sensor B", ("It read high.",)))
    archive = zipfile.ZipFile(io.BytesIO(packed(document(by_sensor=found), drawn)))
    lines = archive.read("summary.txt").decode().splitlines()
    assert lines[-6:] == ["", "Sensor A", "It read low.", "", "Sensor B", "It read high."]


def test_the_summary_is_its_sentences(archive):
    assert archive.read("summary.txt").decode().splitlines() == list(document().summary)


def test_what_to_read_first_says_what_each_file_and_column_is(archive):
    words = archive.read("README.txt").decode()
    for name in archive.namelist():
        assert name.removesuffix(".svg").removesuffix(".png") in words or name == "README.txt"
    assert "bias_bpm: bias, bpm" in words
    assert "Sensor A follows about 12 s late" in words
    assert CARE in words


def test_the_same_report_gives_the_same_bytes(drawn):
    assert packed(document(), drawn) == packed(document(), pictures_of(document()))


def test_no_entry_tells_when_it_was_made(archive):
    assert {entry.date_time for entry in archive.infolist()} == {(1980, 1, 1, 0, 0, 0)}


def test_without_a_day_none_is_told(drawn):
    archive = zipfile.ZipFile(io.BytesIO(packed(document(made_on=None), drawn)))
    assert "2026" not in archive.read("README.txt").decode()
