from datetime import date, timedelta

import numpy as np
import pytest
from django.core.exceptions import ValidationError

from tests.builders import athlete
from trainlog.models import CheckIn
from trainlog.services.check_in import check_ins_between, last_mornings, save_check_in

pytestmark = pytest.mark.django_db

TODAY = date(2026, 3, 2)


def note(owner, back, **noted):
    return save_check_in(owner, TODAY - timedelta(days=back), noted)


def fill_baseline(owner, mornings=14):
    """Mornings before the last seven days: 50 and 52 bpm, 50 and 60 ms in turn."""
    for back in range(7, 7 + mornings):
        note(owner, back, resting_rate=50 + 2 * (back % 2), rmssd=50 + 10 * (back % 2))


def test_a_second_check_in_of_a_day_replaces_the_first(ana):
    note(ana, 0, resting_rate=50, fatigue=3)
    note(ana, 0, rmssd=60)
    kept = CheckIn.objects.of(ana).get()
    assert (kept.resting_rate, kept.fatigue, kept.rmssd) == (None, None, 60)


def test_two_athletes_note_the_same_day(ana):
    ben = athlete("ben")
    note(ana, 0, resting_rate=50)
    note(ben, 0, resting_rate=60)
    assert CheckIn.objects.of(ana).get().resting_rate == 50
    assert [row.resting_rate for row in last_mornings(ben, TODAY).check_ins] == [60]


def test_a_morning_to_come_is_refused(ana):
    with pytest.raises(ValidationError, match="still to come"):
        save_check_in(ana, ana.today() + timedelta(days=1), {"resting_rate": 50})


def test_a_morning_of_nothing_is_refused(ana):
    with pytest.raises(ValidationError, match="fill in at least one field"):
        note(ana, 0, note="")


@pytest.mark.parametrize(
    ("name", "value", "words"),
    [
        ("resting_rate", 24, "between 25 and 120 bpm"),
        ("resting_rate", 121, "between 25 and 120 bpm"),
        ("resting_rate", np.nan, "between 25 and 120 bpm"),
        ("rmssd", 0, "between 1 and 400 ms"),
        ("rmssd", 401, "between 1 and 400 ms"),
        ("sleep_hours", -1, "between 0 and 24"),
        ("sleep_hours", 25, "between 0 and 24"),
        ("sleep_quality", 0, "from 1 to 7"),
        ("fatigue", 8, "from 1 to 7"),
        ("stress", 8, "from 1 to 7"),
        ("soreness", 8, "from 1 to 7"),
    ],
)
def test_what_cannot_be_is_refused_at_its_field_in_words(ana, name, value, words):
    with pytest.raises(ValidationError, match=words) as refusal:
        note(ana, 0, **{name: value})
    assert name in refusal.value.message_dict
    assert not CheckIn.objects.of(ana).exists()


def test_a_range_of_days_includes_both_ends_oldest_first(ana):
    for back in range(4):
        note(ana, back, resting_rate=50 + back)
    found = check_ins_between(ana, TODAY - timedelta(days=2), TODAY - timedelta(days=1))
    assert [row.resting_rate for row in found] == [52, 51]


def test_sixty_days_are_looked_back_on_today_counted(ana):
    note(ana, 59, resting_rate=50)
    note(ana, 60, resting_rate=99)
    found = last_mornings(ana, TODAY)
    assert (len(found.days), found.days[-1]) == (60, TODAY)
    assert [row.resting_rate for row in found.check_ins] == [50]


def test_the_mean_of_seven_days_is_of_the_logarithm_of_rmssd(ana):
    for back, rmssd in enumerate((40, 50, 60)):
        note(ana, back, rmssd=rmssd)
    assert last_mornings(ana, TODAY).ln_rmssd.latest == pytest.approx(np.log([40, 50, 60]).mean())


def test_with_thirteen_mornings_nothing_is_called_usual(ana):
    fill_baseline(ana, 13)
    for back in range(7):
        note(ana, back, resting_rate=50)
    rate = last_mornings(ana, TODAY).resting_rate
    assert rate.band is None
    assert rate.in_words == "too few mornings yet (13 of 14)"


def test_two_mornings_in_seven_days_are_too_few_for_their_mean(ana):
    fill_baseline(ana)
    for back in range(2):
        note(ana, back, resting_rate=50)
    rate = last_mornings(ana, TODAY).resting_rate
    assert rate.latest is None
    assert rate.in_words == "too few mornings in the last seven days (2 of 3)"


@pytest.mark.parametrize(
    ("rate", "words"),
    [(48, "below your usual band"), (51, "inside your usual band"), (54, "above your usual band")],
)
def test_the_mean_lies_below_inside_or_above_the_usual_band(ana, rate, words):
    fill_baseline(ana)
    for back in range(3):
        note(ana, back, resting_rate=rate)
    assert last_mornings(ana, TODAY).resting_rate.in_words == words


def test_the_last_seven_days_do_not_move_their_own_band(ana):
    fill_baseline(ana)
    before = last_mornings(ana, TODAY).ln_rmssd.band
    for back in range(7):
        note(ana, back, rmssd=200)
    assert last_mornings(ana, TODAY).ln_rmssd.band == before


def test_a_resting_rate_ten_above_the_band_is_pointed_out(ana):
    fill_baseline(ana)
    edge = last_mornings(ana, TODAY).resting_rate.band.high + 10
    note(ana, 0, resting_rate=edge - 0.1)
    assert last_mornings(ana, TODAY).far_above is None
    high = note(ana, 0, resting_rate=edge)
    assert last_mornings(ana, TODAY).far_above == high


def test_a_high_resting_rate_is_no_longer_pointed_out_after_a_usual_one(ana):
    fill_baseline(ana)
    note(ana, 1, resting_rate=80)
    note(ana, 0, resting_rate=51)
    assert last_mornings(ana, TODAY).far_above is None


def test_without_a_band_no_resting_rate_is_pointed_out(ana):
    note(ana, 0, resting_rate=110)
    assert last_mornings(ana, TODAY).far_above is None
