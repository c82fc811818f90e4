"""How a table fits across the page."""

from hypothesis import given
from hypothesis import strategies as st

from accuracy.report.widths import LETTER, PADDING, ROOM, SIZES, fit

WORD = st.text("abcdefgh", min_size=1, max_size=9)
HEADINGS = st.lists(st.lists(WORD, min_size=1, max_size=4).map(" ".join), min_size=1, max_size=8)


def test_a_narrow_table_is_set_in_the_largest_type_as_wide_as_it_needs():
    fitted = fit(["session", "bias, bpm"], [["1", "−2.8"]], [False, True])
    assert fitted.size == SIZES[0]
    assert fitted.widths == (None, None)


def test_long_headings_of_numbers_go_over_several_lines_before_type_gets_smaller():
    headings = ["activity", *["mean absolute percentage error, %"] * 6]
    fitted = fit(headings, [["interval run", *["12.3"] * 6]], [False, *[True] * 6])
    assert fitted.size == SIZES[0]
    assert fitted.widths[0] is None
    assert fitted.widths[1] == len("percentage") * LETTER * SIZES[0] + PADDING


def test_many_columns_are_set_in_smaller_type():
    assert fit(["session"] * 12, [["12.3"] * 12], [True] * 12).size < SIZES[0]


def test_a_table_without_rows_fits_too():
    assert fit(["session"], [], [False]).size == SIZES[0]


@given(HEADINGS)
def test_columns_of_numbers_leave_the_page_its_margins_whatever_they_are_called(headings):
    fitted = fit(headings, [["123.4"] * len(headings)], [True] * len(headings))
    assert sum(width or 0 for width in fitted.widths) <= ROOM + len(headings)
    for width, heading in zip(fitted.widths, headings, strict=True):
        longest = max(len(word) for word in (*heading.split(" "), "123.4"))
        assert width is None or width >= longest * LETTER * fitted.size
