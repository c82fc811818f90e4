"""Order, numbers and shown values of a report."""

import math
from xml.etree import ElementTree

import pytest
from django.template.loader import render_to_string

from accuracy.report.document import Column, Section
from accuracy.report.drawings import key_mark, pictures_of
from accuracy.report.reading import CARE, every_figure, every_section, every_table, numbered, shown
from tests.accuracy.report.documents import cloud, document, figure, table
from trainlog.charts.ink import styles

ONE_DIGIT = Column("bias", "bias_bpm", "bpm", 1)


def test_sections_tables_and_figures_are_numbered_in_reading_order():
    found = list(every_section(numbered(document())))
    assert [one.number for one in found] == ["1", "2", "2.1"]
    assert [(number, one.name) for number, one in every_figure(document())] == [
        (1, "density"),
        (2, "overlay-1"),
    ]
    assert [number for number, _ in every_table(document())] == [1]


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (1.25, "1.2"),
        (-6.43, "−6.4"),
        (-0.04, "0.0"),
        (720, "720.0"),
        (None, "–"),
        (math.nan, "–"),
        ("−3 to 4", "−3 to 4"),
    ],
)
def test_a_value_is_shown_as_its_column_says(value, text):
    assert shown(value, ONE_DIGIT) == text


def test_a_count_without_digits_of_its_column_stays_whole():
    assert shown(12, Column("sessions", "sessions")) == "12"


def test_the_care_note_is_that_of_the_pages():
    assert CARE in render_to_string("_care.html", {"care": {"any": False}})


def test_two_figures_of_one_name_would_be_one_file_and_are_refused():
    with pytest.raises(ValueError, match="same name: density"):
        every_figure(document(sections=(Section("Twice", figures=(cloud(), cloud())),)))


def test_a_table_of_the_text_and_one_of_the_data_do_not_share_a_name():
    with pytest.raises(ValueError, match="same name: sessions"):
        every_table(document(data=(table(),)))


@pytest.mark.parametrize("name", ["../figure", "A figure", ""])
def test_a_name_that_no_file_should_have_is_refused(name):
    with pytest.raises(ValueError, match="no name of a file"):
        every_figure(document(sections=(Section("Out", figures=(figure(name=name),)),)))


def test_a_plot_against_the_line_of_identity_is_square():
    height = cloud().spec["height"]
    svg = pictures_of(document(sections=(Section("Square", figures=(cloud(),)),)))["density"].svg
    assert f"h{height}v{height}h-{height}Z" in svg


def shape_of(one, style):
    (shape,) = ElementTree.fromstring(key_mark(one, style))
    return shape.tag.split("}")[1], shape


@pytest.mark.parametrize("style", styles())
def test_every_style_has_a_mark_for_its_key(style):
    assert shape_of(figure(), style)[0] in {"rect", "line", "circle"}


@pytest.mark.parametrize(
    ("mark", "shape"),
    [
        ({"type": "line"}, "line"),
        ({"type": "rule"}, "line"),
        ({"type": "point", "filled": True}, "circle"),
        ({"type": "point", "shape": "cross"}, "path"),
        ({"type": "area"}, "rect"),
    ],
)
def test_a_key_shows_a_style_as_the_figure_draws_it(mark, shape):
    drawn = figure(spec={"layer": [{"mark": {**mark, "style": "tested"}}]})
    assert shape_of(drawn, "tested")[0] == shape


def test_a_trace_is_a_line_in_the_key_though_its_lanes_have_its_colour():
    both = [{"mark": {"type": kind, "style": "tested"}} for kind in ("rect", "line")]
    assert shape_of(figure(spec={"layer": both}), "tested")[0] == "line"


def test_a_dashed_line_is_dashed_in_the_key():
    spec = {"layer": [{"mark": {"type": "rule", "style": "limit"}}]}
    assert shape_of(figure(spec=spec), "limit")[1].attrib["stroke-dasharray"] == "6 3"
