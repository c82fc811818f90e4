import pytest

from trainlog.load.week import Comparison
from trainlog.templatetags.shown import interval_bar
from trainlog.web import words


@pytest.mark.parametrize(("load", "shown"), [(None, "—"), (4.26, "4.3"), (9.96, "10"), (84.4, "84")])
def test_a_load_is_shown_to_what_it_is_worth(load, shown):
    assert words.load_figure(load) == shown


@pytest.mark.parametrize(
    ("change", "shown"),
    [
        (Comparison(70, -4.2, 31.4), "70% likely higher; between 4% lower and 31% higher"),
        (Comparison(25, -40, -3), "75% likely lower; between 3% and 40% lower"),
        (Comparison(95, 6, 20), "95% likely higher; between 6% and 20% higher"),
        (Comparison(90, 0.2, 15), "90% likely higher; up to 15% higher"),
        (Comparison(10, -15, -0.2), "90% likely lower; up to 15% lower"),
        (Comparison(50, -0.1, 0.2), "as likely higher as lower; less than 1% apart"),
        (Comparison(50, -9, 9), "as likely higher as lower; between 9% lower and 9% higher"),
    ],
)
def test_a_comparison_is_a_probability_and_a_range(change, shown):
    assert words.comparison(change) == shown


@pytest.mark.parametrize(("value", "shown"), [(0.089, "±9%"), (1.4, "more than ±100%"), (None, "—")])
def test_doubt_is_a_half_width(value, shown):
    assert words.half_width(value) == shown


@pytest.mark.parametrize(("value", "shown"), [(2.04, "+2.0"), (-3.16, "−3.2"), (-0.04, "0.0"), (None, "—")])
def test_a_difference_carries_a_true_sign(value, shown):
    assert words.signed(value) == shown


@pytest.mark.parametrize(
    ("seconds", "shown"), [(59 * 60, "59 min"), (3599, "1 h 00 min"), (3900, "1 h 05 min")]
)
def test_a_length_is_in_hours_and_minutes(seconds, shown):
    assert words.duration(seconds) == shown


@pytest.mark.parametrize(("seconds", "shown"), [(0, "0:00"), (185, "3:05"), (3785, "1:03:05")])
def test_a_place_in_a_session_reads_like_a_watch(seconds, shown):
    assert words.clock(seconds) == shown


def test_a_drawn_interval_stays_inside_its_drawing():
    total = Interval(low=50, median=80, high=200)
    bar = interval_bar(total, 100, "corrected", "fair", raw=40.0)["bar"]
    assert (bar.left, bar.width, bar.median, bar.raw) == ("50.00", "50.00", "80.00", "40.00")


def test_an_interval_of_no_width_can_still_be_seen():
    bar = interval_bar(Interval(low=50, median=50, high=50), 100)["bar"]
    assert float(bar.width) > 0


class Interval:
    def __init__(self, low, median, high):
        self.low, self.median, self.high = low, median, high


@pytest.mark.parametrize(
    ("per_cent", "said"),
    [
        (95, "almost certainly higher"),
        (85, "very likely higher"),
        (30, "likely lower"),
        (45, "perhaps lower"),
        (50, "about as high"),
    ],
)
def test_a_probability_is_said_aloud_before_it_is_counted(per_cent, said):
    assert words.verdict(Comparison(per_cent, -10, 10)) == said
