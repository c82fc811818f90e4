"""Days marked as not known are neither rest nor a load, and nothing is compared with them."""

from datetime import date, timedelta

import pytest
from django.core.exceptions import ValidationError

from tests.builders import MORNING, athlete, estimate, part
from trainlog.models import Athlete, UnknownDay
from trainlog.services.unknown_days import mark_unknown, unknown_days_between, unmark
from trainlog.services.week import week_of

pytestmark = pytest.mark.django_db

MONDAY = MORNING.date()


def revision(owner):
    return Athlete.objects.get(pk=owner.pk).log_revision


def days_of(owner):
    return list(UnknownDay.objects.of(owner).values_list("day", "note"))


def test_a_range_of_days_is_marked_at_once(ana):
    mark_unknown(ana, MONDAY, MONDAY + timedelta(days=2), "On a boat")
    assert days_of(ana) == [(MONDAY + timedelta(days=after), "On a boat") for after in range(3)]


def test_marking_again_keeps_one_mark_with_the_last_words(ana):
    mark_unknown(ana, MONDAY, MONDAY, "On a boat")
    mark_unknown(ana, MONDAY, MONDAY, "On a raft")
    assert days_of(ana) == [(MONDAY, "On a raft")]


def test_marks_change_what_the_trend_rests_on(ana):
    before = revision(ana)
    mark_unknown(ana, MONDAY, MONDAY)
    marked = revision(ana)
    assert unmark(ana, MONDAY)
    assert before < marked < revision(ana)


def test_taking_back_a_mark_that_is_not_there_changes_nothing(ana):
    before = revision(ana)
    assert not unmark(ana, MONDAY)
    assert revision(ana) == before


def test_sixty_days_are_marked_at_once_and_no_more(ana):
    assert len(mark_unknown(ana, MONDAY, MONDAY + timedelta(days=59))) == 60
    with pytest.raises(ValidationError, match="at most 60 days"):
        mark_unknown(ana, MONDAY, MONDAY + timedelta(days=60))


@pytest.mark.parametrize(
    ("first", "last", "said"),
    [
        (MONDAY, MONDAY - timedelta(days=1), "must not be before the first"),
        (date(1, 1, 1), date(1, 1, 1), "from 1970 on"),
        (date(2999, 1, 1), date(2999, 1, 1), "still to come"),
    ],
)
def test_days_that_cannot_be_marked_are_refused_and_nothing_is_kept(ana, first, last, said):
    with pytest.raises(ValidationError, match=said):
        mark_unknown(ana, first, last)
    assert days_of(ana) == []


def test_marks_are_the_athletes_own(ana):
    mark_unknown(athlete("ben"), MONDAY, MONDAY)
    assert unknown_days_between(ana, MONDAY, MONDAY) == []
    assert not unmark(ana, MONDAY)


def test_a_week_counts_its_marked_days_and_adds_no_load_for_them(ana):
    estimate(part(ana), 100.0)
    mark_unknown(ana, MONDAY + timedelta(days=1), MONDAY + timedelta(days=2))
    week = week_of(ana, MONDAY)
    assert week.unknown_days == 2
    assert week.total.median == 100
    assert [day.unknown is not None for day in week.days] == [False, True, True, False, False, False, False]


def three_weeks(owner):
    for weeks in range(4):
        estimate(part(owner, MORNING - timedelta(weeks=weeks)), 100.0)


def test_a_week_with_a_marked_day_is_compared_with_none(ana):
    three_weeks(ana)
    before = week_of(ana, MONDAY)
    assert None not in (before.against_last, before.against_usual)
    mark_unknown(ana, MONDAY + timedelta(days=3), MONDAY + timedelta(days=3))
    week = week_of(ana, MONDAY)
    assert (week.against_last, week.against_usual) == (None, None)
    assert not week.unknown_before


def test_a_week_is_not_compared_with_one_that_is_not_known_and_the_usual_one_leaves_it_out(ana):
    three_weeks(ana)
    mark_unknown(ana, MONDAY - timedelta(days=3), MONDAY - timedelta(days=3))
    week = week_of(ana, MONDAY)
    assert week.against_last is None
    assert week.unknown_before
    assert week.against_usual.weeks == 2


def test_a_running_week_is_compared_up_to_the_same_day_whatever_came_after_it(ana):
    three_weeks(ana)
    mark_unknown(ana, MONDAY - timedelta(days=1), MONDAY - timedelta(days=1))
    assert week_of(ana, MONDAY, MONDAY + timedelta(days=2)).against_last is not None
