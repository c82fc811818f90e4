from datetime import date, timedelta

import numpy as np
import pytest

from tests.builders import MORNING, athlete, estimate, part
from trainlog.load.draws import standard_normals
from trainlog.load.trend import trend
from trainlog.load.trend_figures import FIGURES
from trainlog.models import Measure
from trainlog.services.trend import trend_between
from trainlog.services.trend_store import keep_trend, logged_days

pytestmark = pytest.mark.django_db

MONDAY = MORNING.date()
SOURCE = "fit 1"


@pytest.fixture
def ana():
    owner = athlete()
    owner.current_source = SOURCE
    owner.save()
    return owner


def day(offset):
    return MONDAY + timedelta(days=offset)


def trained(owner, *offsets, load=100.0, measure="trimp"):
    for offset in offsets:
        draws = load * np.exp(0.1 * standard_normals(f"day {offset}"))
        estimate(part(owner, MORNING + timedelta(days=offset)), draws, measure=measure)
    keep_trend(owner, SOURCE)


def test_the_kept_figures_are_those_of_the_whole_trend(ana):
    trained(ana, 0, 1, 3, 8, 12)
    span = trend_between(ana, day(0), day(20))
    daily = logged_days(ana, "trimp", SOURCE).daily[:21]
    assert span.days == [day(offset) for offset in range(21)]
    for name in ("acute", "chronic", "slow", "fast"):
        expected = np.quantile(getattr(trend(daily), name), [0.1, 0.5, 0.9], axis=1).T
        assert span.of(name) == pytest.approx(expected, rel=1e-6)


def test_a_span_in_the_middle_is_cut_from_the_whole(ana):
    trained(ana, *range(0, 40, 2))
    whole, cut = trend_between(ana, day(0), day(40)), trend_between(ana, day(10), day(17))
    assert cut.days == whole.days[10:18]
    assert np.array_equal(cut.figures, whole.figures[10:18], equal_nan=True)


def test_days_before_the_log_are_left_out(ana):
    trained(ana, 2)
    assert trend_between(ana, day(-30), day(4)).days == [day(2), day(3), day(4)]


def test_a_log_without_a_trend_has_no_days(ana):
    span = trend_between(ana, day(0), day(20))
    assert (span.days, span.figures.shape, span.weeks) == ([], (0, len(FIGURES), 3), {})


def test_averages_fade_on_until_today_however_long_ago_the_last_workout_was(ana):
    trained(ana, 0)
    span = trend_between(ana, day(0), day(60))
    acute = span.of("acute")[:, 1]
    assert len(span.days) == 61
    assert acute[1:] == pytest.approx(0.75 * acute[:-1])
    assert not span.of("load")[1:].any()
    assert np.isnan(span.of("monotony")[7:]).all()


def test_rest_read_beyond_what_is_kept_equals_rest_that_was_kept(ana):
    trained(ana, 0, 4)
    faded = trend_between(ana, day(30), day(33))
    trained(ana, 40)
    assert trend_between(ana, day(30), day(33)).figures == pytest.approx(faded.figures, rel=1e-6, nan_ok=True)


def test_days_to_come_are_left_out(ana):
    today = ana.today()
    estimate(part(ana, MORNING), 100.0)
    keep_trend(ana, SOURCE)
    assert trend_between(ana, today - timedelta(days=2), date(2999, 1, 1)).days[-1] == today


def test_a_later_workout_changes_no_earlier_figure(ana):
    trained(ana, 0, 3)
    before = trend_between(ana, day(0), day(9))
    trained(ana, 10)
    assert np.array_equal(trend_between(ana, day(0), day(9)).figures, before.figures, equal_nan=True)


def test_twice_the_loads_are_twice_the_averages():
    averages = []
    for name, load in (("ana", 100.0), ("bo", 200.0)):
        owner = athlete(name)
        owner.current_source = SOURCE
        owner.save()
        trained(owner, 0, 3, 8, load=load)
        averages.append(trend_between(owner, day(0), day(10)).of("chronic"))
    assert averages[1] == pytest.approx(2 * averages[0], rel=1e-6)


def test_weeks_say_what_they_held(ana):
    trained(ana, 0, 2, 9)
    span = trend_between(ana, day(0), day(10))
    assert [span.held(day(0)).hours, span.held(day(7)).parts, span.held(day(21)).parts] == [2, 1, 0]
    assert span.held(day(0)).total.median == pytest.approx(200, rel=0.02)


def test_the_chosen_measure_is_read_unless_another_is_asked_for(ana):
    trained(ana, 0)
    ana.measure = "session_rpe"
    assert trend_between(ana, day(0), day(0)).days == []
    trained(ana, 1, load=300.0, measure="session_rpe")
    span = trend_between(ana, day(0), day(1))
    assert span.measure == Measure.SESSION_RPE
    assert span.of("load")[1, 1] == pytest.approx(300, rel=0.01)
    assert trend_between(ana, day(0), day(1), "trimp").of("load")[0, 1] == pytest.approx(100, rel=0.01)


def test_only_the_source_on_show_is_read(ana):
    trained(ana, 0)
    ana.current_source = "fit 2"
    assert trend_between(ana, day(0), day(3)).days == []


@pytest.mark.parametrize("weeks", [2, 30])
def test_the_number_of_queries_does_not_grow_with_the_history(ana, weeks, django_assert_num_queries):
    trained(ana, *range(0, 7 * weeks, 3))
    with django_assert_num_queries(4):
        trend_between(ana, day(0), day(7 * weeks))
