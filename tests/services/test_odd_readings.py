from datetime import date, timedelta

import numpy as np
import pytest

from fixtures import csv_writer
from tests.builders import MORNING, athlete, equipped_athlete, imported
from trainlog.services.odd_readings import odd_rates
from trainlog.trace import Trace

pytestmark = pytest.mark.django_db

TODAY = date(2026, 3, 4)


@pytest.fixture
def ana():
    """Maximum 190 ±3 bpm."""
    return equipped_athlete("ana", strap="strap", wrist="wrist")


def recorded(owner, *rates, device="wrist", day=0):
    """Five minutes at 150 bpm, then the rates second by second, then a minute at 150."""
    heart_rate = np.concatenate([np.full(300, 150.0), np.array(rates, dtype=float), np.full(60, 150.0)])
    start = MORNING + timedelta(days=day)
    return imported(owner, csv_writer.write(Trace(start, heart_rate), device, []), f"{device} {day}.csv")


def test_half_a_minute_above_the_maximum_and_its_error_is_odd(ana):
    recording = recorded(ana, *[200.0] * 40)
    (odd,) = odd_rates(ana, TODAY)
    assert odd.recording == recording
    assert (odd.rate, odd.maximum, odd.error, odd.strap_rate) == (200, 190, 3, None)
    assert odd.from_wrist
    assert not odd.predicted


@pytest.mark.parametrize("rates", [[200.0] * 25, [192.0] * 60, [245.0] * 60])
def test_what_is_short_near_the_maximum_or_no_rate_at_all_is_not(ana, rates):
    recorded(ana, *rates)
    assert odd_rates(ana, TODAY) == []


def test_a_strap_can_be_odd_too(ana):
    recorded(ana, *[200.0] * 40, device="strap")
    (odd,) = odd_rates(ana, TODAY)
    assert not odd.from_wrist


def test_a_strap_of_the_same_workout_that_stayed_below_is_told(ana):
    recorded(ana, *[200.0] * 40)
    recorded(ana, *[170.0] * 40, device="strap")
    (odd,) = odd_rates(ana, TODAY)
    assert odd.strap_rate == 170


def test_a_strap_that_agrees_is_no_comfort(ana):
    recorded(ana, *[200.0] * 40)
    recorded(ana, *[201.0] * 40, device="strap")
    assert [odd.strap_rate for odd in odd_rates(ana, TODAY)] == [None, None]


def test_only_the_last_fourteen_days_are_looked_at_and_only_one_workout_if_asked(ana):
    old, new = recorded(ana, *[200.0] * 40, day=-20), recorded(ana, *[200.0] * 40)
    assert [odd.recording for odd in odd_rates(ana, TODAY)] == [new]
    assert [odd.recording for odd in odd_rates(ana, TODAY, new.workout)] == [new]
    assert odd_rates(ana, TODAY, old.workout) == []


def test_without_a_maximum_nothing_lies_above_it():
    ben = athlete("ben")
    recorded(ben, *[200.0] * 40)
    assert odd_rates(ben, TODAY) == []


def test_the_readings_of_others_are_not_looked_at(ana):
    recorded(ana, *[200.0] * 40)
    assert odd_rates(equipped_athlete("ben", strap="strap"), TODAY) == []
