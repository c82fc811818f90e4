from datetime import date, timedelta

import numpy as np

from accuracy.core.estimates.chance_days import chance_days

MONDAY = date(2026, 11, 23)


def test_days_stay_as_they_were_drawn_all_week():
    drawn = [day for day in chance_days(1, MONDAY) if day < MONDAY + timedelta(days=7)]
    for passed in range(7):
        today = MONDAY + timedelta(days=passed)
        left = [day for day in chance_days(1, today) if day < MONDAY + timedelta(days=7)]
        assert left == [day for day in drawn if day >= today]


def test_there_is_always_a_day_ahead():
    for seed in range(200):
        today = MONDAY + timedelta(days=seed % 7)
        days = chance_days(seed, today)
        assert days
        assert days == sorted(days)
        assert days[0] >= today


def test_two_days_of_a_week_are_drawn():
    assert {len(chance_days(seed, MONDAY)) for seed in range(50)} == {2}


def test_every_weekday_is_as_likely():
    drawn = [day.weekday() for seed in range(2000) for day in chance_days(seed, MONDAY)]
    assert np.bincount(drawn, minlength=7).min() > 0.8 * len(drawn) / 7


def test_other_athletes_and_other_weeks_have_other_days():
    weeks = {tuple(day.weekday() for day in chance_days(1, MONDAY + timedelta(weeks=w))) for w in range(10)}
    athletes = {tuple(chance_days(seed, MONDAY)) for seed in range(10)}
    assert min(len(weeks), len(athletes)) > 3
