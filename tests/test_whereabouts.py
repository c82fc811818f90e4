"""Every instant falls in one zone and on one local day."""

from datetime import UTC, date, datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trainlog.whereabouts import Away, Whereabouts, overlap

LISBON, TOKYO, HONOLULU = ZoneInfo("Europe/Lisbon"), ZoneInfo("Asia/Tokyo"), ZoneInfo("Pacific/Honolulu")
AUCKLAND, NEW_YORK = ZoneInfo("Pacific/Auckland"), ZoneInfo("America/New_York")
KIRITIMATI = ZoneInfo("Pacific/Kiritimati")
ZONES = [LISBON, TOKYO, HONOLULU, AUCKLAND, NEW_YORK, ZoneInfo("UTC"), ZoneInfo("Asia/Kathmandu")]

FIRST = date(2026, 3, 1)
zones = st.sampled_from(ZONES)
moments = st.datetimes(datetime(2026, 2, 20), datetime(2026, 6, 20), timezones=st.just(UTC))


@st.composite
def journeys(draw):
    """Home, and stays that do not overlap: some a day or more apart, some on each other's heels."""
    stays, day = [], FIRST
    for _ in range(draw(st.integers(0, 4))):
        first = day + timedelta(days=draw(st.integers(0, 9)))
        day = first + timedelta(days=draw(st.integers(1, 14)))
        stays.append(Away(draw(zones), first, day))
    return Whereabouts(draw(zones), tuple(stays))


def days(whereabouts, first, hours):
    """Local day of each of the hours after an instant."""
    return [whereabouts.day_of(first + timedelta(hours=hour)) for hour in range(hours)]


@given(journeys(), moments)
def test_every_instant_has_one_local_day_that_of_its_zone(whereabouts, moment):
    zone = whereabouts.zone_at(moment)
    assert whereabouts.day_of(moment) == moment.astimezone(zone).date()
    holding = [stay for stay in whereabouts.stays if stay.holds(moment.astimezone(stay.zone).date())]
    assert zone == (max(holding, key=lambda stay: stay.order).zone if holding else whereabouts.home)


@given(journeys(), moments, st.randoms(use_true_random=False))
def test_the_order_of_the_stays_does_not_matter(whereabouts, moment, chance):
    shuffled = list(whereabouts.stays)
    chance.shuffle(shuffled)
    assert Whereabouts(whereabouts.home, tuple(shuffled)).zone_at(moment) == whereabouts.zone_at(moment)


@given(zones, moments)
def test_without_a_stay_it_is_home(home, moment):
    assert Whereabouts(home).zone_at(moment) == home


@given(journeys(), moments, zones)
def test_the_zone_in_which_an_instant_is_written_does_not_matter(whereabouts, moment, written):
    assert whereabouts.day_of(moment) == whereabouts.day_of(moment.astimezone(written))


@given(journeys(), st.integers(-5, 90))
def test_noon_typed_by_the_clock_of_a_day_falls_on_that_day_in_the_middle_of_a_stay_or_at_home(
    whereabouts, after
):
    day = FIRST + timedelta(days=after)
    near = [day + timedelta(days=apart) for apart in (-2, -1, 0, 1, 2)]
    typed = whereabouts.zone_on(day)
    if len({whereabouts.zone_on(each) for each in near}) == 1:
        assert whereabouts.day_of(datetime(day.year, day.month, day.day, 12, tzinfo=typed)) == day


def test_an_evening_at_home_and_a_morning_away_are_days_of_their_own():
    trip = Whereabouts(LISBON, (Away(TOKYO, date(2026, 4, 6), date(2026, 4, 12)),))
    assert trip.day_of(datetime(2026, 4, 5, 9, 40, tzinfo=LISBON)) == date(2026, 4, 5)
    early = datetime(2026, 4, 7, 6, 50, tzinfo=TOKYO)
    assert early.astimezone(LISBON).date() == date(2026, 4, 6)
    assert trip.day_of(early) == date(2026, 4, 7)
    assert trip.zone_at(early) == TOKYO


def test_of_two_stays_that_share_a_day_the_later_counts_once_its_day_has_begun():
    shared = date(2026, 4, 10)
    trip = Whereabouts(
        LISBON, (Away(TOKYO, date(2026, 4, 6), shared), Away(HONOLULU, shared, date(2026, 4, 14)))
    )
    assert trip.zone_at(datetime(2026, 4, 10, 9, 0, tzinfo=TOKYO)) == TOKYO
    assert trip.zone_at(datetime(2026, 4, 10, 0, 30, tzinfo=HONOLULU)) == HONOLULU
    assert trip.zone_on(shared) == HONOLULU


def test_a_day_is_doubled_on_the_way_east_over_the_date_line():
    """From Auckland to Honolulu: the tenth is lived twice, and its hours are more than 24."""
    trip = Whereabouts(AUCKLAND, (Away(HONOLULU, date(2026, 4, 10), date(2026, 4, 14)),))
    found = days(trip, datetime(2026, 4, 8, 12, tzinfo=UTC), 24 + 46)
    assert found.count(date(2026, 4, 10)) == 24 + 22
    assert set(found) == {date(2026, 4, day) for day in (9, 10)}


def test_a_day_is_shortened_on_the_way_west_over_the_date_line():
    """From Honolulu to Auckland, 22 hours ahead: of the ninth at home only the hours before are left."""
    trip = Whereabouts(HONOLULU, (Away(AUCKLAND, date(2026, 4, 10), date(2026, 4, 14)),))
    found = days(trip, datetime(2026, 4, 8, 10, tzinfo=UTC), 48)
    assert [found.count(date(2026, 4, day)) for day in (8, 9, 10)] == [24, 2, 22]
    assert sorted(found) == found


def test_a_day_is_skipped_where_clocks_are_a_whole_day_apart():
    trip = Whereabouts(HONOLULU, (Away(KIRITIMATI, date(2026, 4, 10), date(2026, 4, 14)),))
    found = days(trip, datetime(2026, 4, 8, 10, tzinfo=UTC), 48)
    assert [found.count(date(2026, 4, day)) for day in (8, 9, 10)] == [24, 0, 24]


@pytest.mark.parametrize(
    ("day", "hours"),
    [(date(2026, 3, 29), 23), (date(2026, 10, 25), 25), (date(2026, 3, 28), 24)],
    ids=["spring gap", "autumn fold", "plain"],
)
def test_every_instant_of_a_day_on_which_clocks_change_is_of_that_day(day, hours):
    home = Whereabouts(LISBON)
    midnight = datetime(day.year, day.month, day.day, tzinfo=LISBON).astimezone(UTC)
    found = days(home, midnight - timedelta(hours=1), hours + 2)
    assert found.count(day) == hours
    assert all(after >= before for before, after in pairwise(found))


def test_both_hours_of_an_autumn_fold_are_the_same_day_away_too():
    trip = Whereabouts(TOKYO, (Away(NEW_YORK, date(2026, 11, 1), date(2026, 11, 3)),))
    for fold in (0, 1):
        assert trip.day_of(datetime(2026, 11, 1, 1, 30, tzinfo=NEW_YORK, fold=fold)) == date(2026, 11, 1)


def test_a_time_typed_into_a_spring_gap_still_falls_on_its_day():
    gap = datetime(2026, 3, 29, 1, 30, tzinfo=LISBON)
    assert Whereabouts(LISBON).day_of(gap.astimezone(UTC)) == date(2026, 3, 29)


@pytest.mark.parametrize(
    ("one", "other", "overlaps"),
    [
        ((1, 5), (5, 9), False),
        ((1, 5), (6, 9), False),
        ((1, 5), (4, 9), True),
        ((1, 9), (4, 4), True),
        ((1, 1), (1, 5), False),
        ((1, 5), (5, 5), False),
        ((1, 5), (1, 5), True),
        ((3, 3), (3, 3), True),
    ],
)
def test_two_stays_may_share_the_day_on_which_one_ends_and_the_other_begins(one, other, overlaps):
    stays = [Away(TOKYO, *(date(2026, 4, day) for day in pair)) for pair in (one, other)]
    assert overlap(*stays) == overlap(*reversed(stays)) == overlaps
