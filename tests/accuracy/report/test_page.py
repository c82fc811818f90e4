"""The report as one page: nothing outside it, and every figure in words too."""

from html.parser import HTMLParser
from itertools import pairwise

import pytest

from accuracy.report.document import Section
from accuracy.report.drawings import pictures_of
from accuracy.report.page import page_of
from accuracy.report.reading import CARE
from tests.accuracy.report.documents import cloud, document, figure, table

VOID = {"meta", "br", "link", "img", "input", "hr"}
NASTY = "<script>alert(1)</script> & \"quoted\" 'so'"


class Read(HTMLParser):
    """What a parser finds: elements with attributes, text by the element it stands in, and open elements."""

    def __init__(self):
        super().__init__()
        self.elements, self.texts, self.open, self.unclosed = [], [], [], []

    def handle_starttag(self, tag, attrs):
        self.elements.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.elements.append((tag, dict(attrs)))

    def handle_endtag(self, tag):
        if not self.open or self.open.pop() != tag:
            self.unclosed.append(tag)

    def handle_data(self, data):
        if data.strip() and self.open:
            self.texts.append((self.open[-1], data.strip()))

    def within(self, tag):
        return [text for where, text in self.texts if where == tag]

    def named(self, tag):
        return [attributes for name, attributes in self.elements if name == tag]


def read(made):
    found = Read()
    found.feed(made.decode())
    found.close()
    return found


@pytest.fixture(scope="module")
def drawn():
    return pictures_of(document(sections=(Section("All", figures=(figure(), cloud())),)))


@pytest.fixture(scope="module")
def page(drawn):
    return read(page_of(document(), drawn))


def test_every_element_is_closed_where_it_should_be(page):
    assert page.unclosed == []
    assert page.open == []


def test_nothing_in_it_names_an_address_outside(page):
    values = [value or "" for _, attributes in page.elements for value in attributes.values()]
    assert [value for value in values if "//" in value or value.startswith("data:")] == []
    links = [attributes["href"] for attributes in page.named("a")]
    assert all(link.startswith("#") for link in links)
    assert "url(" not in "".join(page.within("style")) + "".join(page.within("script"))
    assert "@import" not in "".join(page.within("style"))


def test_nothing_in_it_runs(page):
    names = {name for name, _ in page.elements}
    assert not names & {"script", "iframe", "object", "embed", "link", "form", "img"}
    assert not [key for _, attributes in page.elements for key in attributes if key.startswith("on")]


def test_no_two_things_have_the_same_name_and_every_name_that_is_used_is_there(page):
    names = [attributes["id"] for _, attributes in page.elements if "id" in attributes]
    assert len(names) == len(set(names))
    used = {link["href"][1:] for link in page.named("a")}
    for _, attributes in page.elements:
        used |= set((attributes.get("aria-labelledby") or "").split())
        used |= set((attributes.get("aria-describedby") or "").split())
        clip = attributes.get("clip-path") or ""
        used |= {clip[5:-1]} if clip else set()
    assert any(name.startswith("figure-2-part") for name in used)
    assert used <= set(names)


def test_each_figure_is_an_image_with_its_caption_and_the_same_facts_in_words(page):
    drawings = [one for one in page.named("svg") if one.get("role") == "img"]
    assert len(drawings) == 2
    assert [
        attributes["role"] for _, attributes in page.elements if "graphics" in attributes.get("role", "")
    ] == []
    for one in (cloud(), figure()):
        assert one.caption in page.within("title")
        assert one.alternative in page.within("desc")
        assert one.alternative in page.within("p")


def test_marks_of_a_key_are_passed_over_by_a_screen_reader(page):
    marks = [one for one in page.named("svg") if one.get("role") != "img"]
    assert len(marks) == 4
    assert all(mark["aria-hidden"] == "true" for mark in marks)


def test_a_table_has_a_caption_and_its_headings_say_what_they_head(page):
    assert len(page.named("caption")) == 1
    assert "Mean heart rate of each session." in page.within("span")
    assert [one["scope"] for one in page.named("th")] == ["col"] * 4 + ["row"] * 2
    assert "mean of the reference,\N{NO-BREAK SPACE}bpm" in page.within("th")


def test_numbers_are_rounded_as_their_column_says_with_a_true_minus_and_a_dash_for_what_is_not_known(page):
    assert page.within("td") == ["141.3", "−6.4", "720", "133.0", "–", "700"]


def test_the_contents_name_every_section_in_order(page):
    assert [one["href"] for one in page.named("a")] == [
        "#summary",
        "#section-1",
        "#section-2",
        "#section-2-1",
        "#references",
        "#care",
    ]


def test_headings_go_down_by_one_level(page):
    levels = [int(name[1]) for name, _ in page.elements if name in {"h1", "h2", "h3", "h4"}]
    assert all(after <= before + 1 for before, after in pairwise(levels))
    assert levels.count(1) == 1


def test_it_ends_with_care_and_where_it_comes_from(page):
    assert CARE in page.within("p")
    assert any("Apache License 2.0" in words for words in page.within("p"))
    assert "Version 0.1.0, method 7." in page.within("p")


def test_it_says_the_day_only_if_it_has_one(page, drawn):
    assert "9 March 2026" in page.within("p")
    assert b"2026</p>" not in page_of(document(made_on=None), drawn)


def test_a_name_that_looks_like_markup_stays_a_name(drawn):
    nasty = document(
        title=NASTY,
        summary=(NASTY,),
        sections=(
            Section(
                NASTY,
                paragraphs=(NASTY,),
                tables=(table(caption=NASTY, rows=((NASTY, 1.0, 1.0, 1),), note=NASTY),),
                figures=(figure(caption=NASTY, alternative=NASTY, key=(("tested", NASTY),)),),
            ),
        ),
    )
    found = read(page_of(nasty, drawn))
    assert found.named("script") == []
    assert found.within("h1") == [NASTY]
    assert found.within("title") == [NASTY, NASTY]
    assert found.within("desc") == [NASTY]
    assert found.unclosed == []
    assert NASTY in found.within("th")


def test_the_same_report_gives_the_same_page(drawn):
    assert page_of(document(), drawn) == page_of(document(), drawn)
