import pytest
from hypothesis import given
from hypothesis import strategies as st

from trainlog.web.clock_field import seconds_of
from trainlog.web.words import clock


@given(st.integers(0, 24 * 3600))
def test_a_place_is_read_as_it_is_written(seconds):
    assert seconds_of(clock(seconds)) == seconds


@pytest.mark.parametrize(
    ("text", "seconds"), [("41.5", 2490), (" 7 ", 420), ("90:05", 5405), ("1:03:05", 3785)]
)
def test_minutes_may_have_decimals_or_go_past_the_hour(text, seconds):
    assert seconds_of(text) == seconds


@pytest.mark.parametrize(
    "text", ["", "soon", "1:60", "1:75:00", "1:2:3:4", "-3", "1:-3", "nan", "inf", ":", "٤:٠٠"]
)
def test_what_is_no_place_is_refused(text):
    assert seconds_of(text) is None
