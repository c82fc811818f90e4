"""The report as PDF: accessible, alike everywhere, and text that stays text."""

import json
import re
import zlib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from accuracy.report.document import Section
from accuracy.report.drawings import pictures_of
from accuracy.report.pdf import _compiler, pdf_of
from tests.accuracy.report.documents import cloud, document, figure, table

MARKUP = r'#panic("no") $x$ *b* _i_ `c` @ref <label> // no \ [x] = h - l #import "@preview/a:0.1.0": *'
TEXT = st.text(st.characters(codec="utf-8", exclude_categories=["C"]), min_size=1, max_size=30).filter(
    lambda text: text.strip()
)


@pytest.fixture(scope="module")
def drawn():
    return pictures_of(document())


@pytest.fixture(scope="module")
def pdf(drawn):
    return pdf_of(document(), drawn)


def plain(made):
    """File with its streams unpacked, as far as they can be."""
    found = [made]
    for stream in re.findall(rb"stream\r?\n(.*?)endstream", made, re.DOTALL):
        try:
            found.append(zlib.decompressobj().decompress(stream))
        except zlib.error:
            continue
    return b"\n".join(found)


def without_figures(**changes):
    sections = (Section("Sample", tables=(table(),)),)
    return document(**({"sections": sections} | changes))


def headings(made, drawn=None):
    """Headings that the compiler set, as the text that a reader can select in the file."""
    return [words(one) for one in json.loads(_compiler(made, drawn or {}).query("heading", field="body"))]


def cells(made):
    """Cells of the first table, its header first."""
    found = json.loads(_compiler(made, {}).query("figure.where(kind: table)", field="body"))
    return [words(cell) for cell in every("cell", found[0])]


def every(func, content):
    if isinstance(content, list):
        return [one for part in content for one in every(func, part)]
    if not isinstance(content, dict):
        return []
    return [content] if content.get("func") == func else every(func, list(content.values()))


def words(content):
    """Text of set content."""
    return "".join(one["text"] for one in every("text", content))


def test_it_is_an_accessible_pdf(pdf):
    found = plain(pdf)
    assert pdf.startswith(b"%PDF-1.7")
    assert b"pdfuaid:part" in found
    assert b"/StructTreeRoot" in found
    assert b"/Lang (en-GB)" in found or b"/Lang(en-GB)" in found


def test_each_figure_has_its_alternative(pdf):
    alternatives = set(re.findall(rb"/Alt ?\((.*?)\)", pdf))
    assert alternatives == {cloud().alternative.encode(), figure().alternative.encode()}


def test_tables_have_header_cells(pdf):
    assert len(re.findall(rb"/S ?/TH\b", pdf)) == len(table().columns)


def test_its_fonts_are_those_of_the_compiler_alone(pdf):
    fonts = set(re.findall(rb"/BaseFont ?/[A-Z]{6}\+([A-Za-z]+)", plain(pdf)))
    assert fonts
    assert {font[:10] for font in fonts} == {b"Libertinus"}


def test_it_names_its_title_and_day(pdf):
    assert b"Sensor A against a chest strap" in plain(pdf)
    assert b"D:20260309" in plain(pdf)


def test_without_a_day_none_is_told(drawn):
    found = plain(pdf_of(document(made_on=None), drawn))
    assert b"CreationDate" not in found
    assert b"D:20" not in found


def test_the_same_report_gives_the_same_bytes(pdf, drawn):
    assert pdf_of(document(), drawn) == pdf


def test_a_long_table_goes_over_pages_and_repeats_its_header():
    def pages(made):
        return len(re.findall(rb"/Type ?/Page\b", made))

    def for_the_eye(made):
        """What is drawn on a page and not read out, such as its number, or a header that is repeated."""
        return plain(made).count(b"/Artifact") / pages(made)

    rows = tuple((f"A {place}", 1.0, 1.0, 1) for place in range(250))
    long = pdf_of(document(sections=(Section("Long", tables=(table(rows=rows),)),)), {})
    prose = pdf_of(document(sections=(Section("Long", paragraphs=("word " * 100,) * 30),)), {})
    assert pages(long) >= 5
    assert pages(prose) >= 5
    assert for_the_eye(long) > for_the_eye(prose) + len(table().columns) / 2


def test_sections_and_cells_are_set():
    made = without_figures()
    assert headings(made) == ["Summary", "Contents", "Sample", "References", "Care"]
    assert cells(made)[:2] == ["session", "mean of the reference,\N{NO-BREAK SPACE}bpm"]
    assert cells(made)[4:] == ["A 1", "141.3", "−6.4", "720", "A 2", "133.0", "–", "700"]


@settings(max_examples=40)
@given(TEXT)
def test_any_text_is_set_as_it_stands(text):
    tables = (table(rows=((text, 1.0, None, 1),)),)
    made = document(title=text, sections=(Section(text, paragraphs=(text,), tables=tables),))
    assert headings(made)[2] == text
    assert cells(made)[4] == text
    assert pdf_of(made, {}).startswith(b"%PDF")


def test_markup_in_a_text_stays_text(drawn):
    made = document(
        title=MARKUP,
        subtitle=MARKUP,
        summary=(MARKUP,),
        sections=(
            Section(
                MARKUP,
                paragraphs=(MARKUP,),
                tables=(table(caption=MARKUP, note=MARKUP, rows=((MARKUP, 1.0, None, 1),)),),
                figures=(figure(caption=MARKUP, alternative=MARKUP, key=(("tested", MARKUP),)),),
            ),
        ),
        references=(MARKUP,),
        colophon=MARKUP,
    )
    assert headings(made, drawn)[2] == MARKUP
    assert b"pdfuaid:part" in plain(pdf_of(made, drawn))


def test_a_name_in_letters_that_no_font_of_the_compiler_has_still_gives_a_file():
    made = pdf_of(without_figures(title="左手 sensor"), {})
    assert made.startswith(b"%PDF")
    assert b"pdfuaid:part" not in plain(made)
