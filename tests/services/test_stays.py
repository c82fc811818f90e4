"""Stays elsewhere move workouts to their local days there, and nothing is lost or counted twice."""

from collections import Counter
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from django.core.exceptions import ValidationError
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from tests.builders import activity_of, athlete, csv_file, estimate, imported, part
from trainlog.models import Stay, Workout
from trainlog.services.athletes import save_settings
from trainlog.services.edit_workout import add_typed_workout
from trainlog.services.stays import delete_stay, save_stay, stays_of
from trainlog.services.week import monday_of, week_of

pytestmark = pytest.mark.django_db

TOKYO = ZoneInfo("Asia/Tokyo")
MONDAY = date(2026, 4, 6)
FAR_ZONES = ["Asia/Tokyo", "Pacific/Honolulu", "Pacific/Kiritimati"]
EARLY = datetime(2026, 4, 7, 6, 50, tzinfo=TOKYO)
"""Tuesday in Tokyo, and still Monday in Lisbon."""


@pytest.fixture
def ana():
    return athlete(time_zone="Europe/Lisbon")


def stay(owner, first=MONDAY, last=MONDAY + timedelta(days=6), zone="Asia/Tokyo"):
    return save_stay(owner, Stay(time_zone=zone, first_day=first, last_day=last))


def placed():
    return set(Workout.objects.values_list("day", "time_zone"))


def test_a_workout_during_a_stay_is_of_the_local_day_there(ana):
    stay(ana)
    part(ana, EARLY)
    assert placed() == {(date(2026, 4, 7), "Asia/Tokyo")}


def test_a_stay_noted_afterwards_moves_the_workouts_in_it_and_no_other(ana):
    part(ana, EARLY)
    part(ana, datetime(2026, 4, 5, 8, tzinfo=UTC))
    assert placed() == {(date(2026, 4, 6), ""), (date(2026, 4, 5), "")}
    stay(ana)
    assert placed() == {(date(2026, 4, 7), "Asia/Tokyo"), (date(2026, 4, 5), "")}


def test_only_what_moved_to_another_day_is_estimated_anew(ana):
    moved = part(ana, EARLY)
    same_day = part(ana, datetime(2026, 4, 8, 18, tzinfo=TOKYO))
    revision = type(ana).objects.get(pk=ana.pk).log_revision
    stay(ana)
    for row in (moved, same_day):
        row.refresh_from_db()
    assert (moved.input_revision, same_day.input_revision) == (2, 1)
    assert Workout.objects.get(pk=same_day.workout_id).time_zone == "Asia/Tokyo"
    assert type(ana).objects.get(pk=ana.pk).log_revision > revision


def test_changing_and_deleting_a_stay_moves_workouts_again(ana):
    part(ana, EARLY)
    row = stay(ana)
    row.time_zone = "Pacific/Honolulu"
    save_stay(ana, row)
    assert placed() == {(date(2026, 4, 6), "Pacific/Honolulu")}
    delete_stay(row)
    assert placed() == {(date(2026, 4, 6), "")}
    assert stays_of(ana) == []


def test_another_home_leaves_workouts_away_where_they_were(ana):
    stay(ana)
    part(ana, EARLY)
    part(ana, datetime(2026, 4, 20, 23, 30, tzinfo=UTC))
    ana.time_zone = "America/New_York"
    save_settings(ana)
    assert placed() == {(date(2026, 4, 7), "Asia/Tokyo"), (date(2026, 4, 20), "")}


def test_a_stay_in_the_zone_of_home_is_home(ana):
    stay(ana, zone="Europe/Lisbon")
    part(ana, EARLY)
    assert placed() == {(date(2026, 4, 6), "")}


def test_files_are_placed_by_the_clock_of_the_stay(ana):
    stay(ana)
    recording = imported(ana, csv_file(EARLY.astimezone(UTC)))
    assert (recording.workout.day, recording.workout.time_zone) == (date(2026, 4, 7), "Asia/Tokyo")


def test_times_without_a_zone_are_those_of_the_clock_where_the_athlete_was(ana):
    stay(ana)
    rows = "\n".join(f"2026-04-07 06:50:{second:02d},120" for second in range(60))
    recording = imported(ana, f"time,heart rate\n{rows}\n".encode())
    assert recording.start == EARLY
    assert "Times without a time zone were taken as Asia/Tokyo." in recording.notes


def test_a_typed_workout_is_of_the_local_day_there(ana):
    stay(ana)
    made = add_typed_workout(ana, EARLY.astimezone(UTC), 30, activity_of(ana, "run"), 4)
    assert (made.day, made.time_zone) == (date(2026, 4, 7), "Asia/Tokyo")
    assert f"{made.local_start:%H:%M}" == "06:50"


def test_today_is_the_day_where_the_athlete_is(ana, monkeypatch):
    monkeypatch.setattr("django.utils.timezone.now", lambda: EARLY.astimezone(UTC))
    assert ana.today() == date(2026, 4, 6)
    stay(ana)
    assert ana.today() == date(2026, 4, 7)


def test_a_stay_that_overlaps_another_is_refused_with_what_to_do(ana):
    stay(ana)
    with pytest.raises(ValidationError, match="There is a stay in Asia/Tokyo from 2026-04-06 to 2026-04-12"):
        stay(ana, date(2026, 4, 11), date(2026, 4, 20), "Asia/Seoul")
    assert Stay.objects.count() == 1


def test_a_stay_may_begin_on_the_day_on_which_another_ends(ana):
    stay(ana)
    stay(ana, date(2026, 4, 12), date(2026, 4, 20), "Pacific/Honolulu")
    assert [row.time_zone for row in stays_of(ana)] == ["Pacific/Honolulu", "Asia/Tokyo"]


def test_a_stay_can_be_changed_without_being_in_its_own_way(ana):
    row = stay(ana)
    row.last_day += timedelta(days=1)
    save_stay(ana, row)
    assert Stay.objects.get().last_day == date(2026, 4, 13)


def test_stays_of_others_are_in_nobodys_way(ana):
    stay(athlete("ben"))
    stay(ana)
    assert Stay.objects.count() == 2


@pytest.mark.parametrize(
    ("zone", "first", "last", "said"),
    [
        ("Atlantis", MONDAY, MONDAY, "is no time zone"),
        ("", MONDAY, MONDAY, "cannot be blank"),
        ("Asia/Tokyo", MONDAY, MONDAY - timedelta(days=1), "ends on the day it began or later"),
        ("Asia/Tokyo", date(1, 1, 1), date(1, 1, 2), "between 1970 and 2999"),
        ("Asia/Tokyo", date(9999, 12, 30), date(9999, 12, 31), "between 1970 and 2999"),
    ],
)
def test_a_stay_that_cannot_be_is_refused_and_nothing_kept(ana, zone, first, last, said):
    with pytest.raises(ValidationError, match=said):
        stay(ana, first, last, zone)
    assert not Stay.objects.exists()


class WeeksOfATrip(TestCase):
    """Whatever the stays and the times of training: a week has seven days, and every workout is in one."""

    @settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck))
    @given(
        home=st.sampled_from(["Europe/Lisbon", "Pacific/Auckland", "Pacific/Honolulu"]),
        first=st.integers(0, 12),
        lengths=st.lists(
            st.tuples(st.integers(0, 6), st.sampled_from(FAR_ZONES)),
            max_size=3,
        ),
        hours=st.lists(st.integers(0, 24 * 20), min_size=1, max_size=6, unique=True),
    )
    def test_nothing_is_lost_or_counted_twice(self, home, first, lengths, hours):
        owner = athlete(f"of {home}", time_zone=home)
        begins = MONDAY + timedelta(days=first)
        for length, zone in lengths:
            ends = begins + timedelta(days=length + 1)
            stay(owner, begins, ends, zone)
            begins = ends
        for hour in hours:
            estimate(part(owner, datetime(2026, 4, 4, tzinfo=UTC) + timedelta(hours=hour), 30), 10.0)
        found = Counter()
        loads = []
        mondays = sorted({monday_of(day) for day in Workout.objects.of(owner).values_list("day", flat=True)})
        for monday in mondays:
            week = week_of(owner, monday)
            assert [day.date for day in week.days] == [monday + timedelta(days=after) for after in range(7)]
            found.update(line.part.workout_id for day in week.days for line in day.lines)
            in_days = sum(day.total.median for day in week.days if day.total)
            assert np.isclose(in_days, week.total.median)
            loads.append(in_days)
        assert set(found.values()) == {1}
        assert len(found) == Workout.objects.of(owner).count() == len(hours)
        assert np.isclose(sum(loads), 10.0 * len(hours))
