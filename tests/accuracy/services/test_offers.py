from datetime import date, timedelta

import numpy as np
import pytest

from accuracy.services.digest import digest
from accuracy.services.offers import maximum_offer
from fixtures import csv_writer
from tests.builders import MORNING, athlete, equipped_athlete, imported
from trainlog.models import Part, Physiology
from trainlog.services.offers import decline_offer
from trainlog.trace import Trace

pytestmark = pytest.mark.django_db


@pytest.fixture
def ana():
    """Maximum 190 bpm from 2026-01-01."""
    return equipped_athlete("ana", strap="strap", wrist="wrist")


def effort(peak, held=20, minutes=20):
    """Heart rate that rises over minutes to a peak, holds it and comes down."""
    seconds = np.arange(minutes * 60)
    middle = len(seconds) // 2
    away = np.maximum(np.abs(seconds - middle) - held / 2, 0)
    breath = np.where(away > 0, np.sin(seconds / 7), 0)
    return np.round(np.maximum(peak - away / 6, 120) + breath, 1)


def recorded(owner, heart_rate, *, device="strap", day=0):
    start = MORNING + timedelta(days=day)
    content = csv_writer.write(Trace(start, heart_rate), device, [])
    recording = imported(owner, content, f"{device} {day}.csv")
    for part in Part.objects.of(owner).select_related("workout"):
        digest(part)
    return recording


def test_a_higher_rate_that_a_strap_held_is_offered_rounded_down(ana):
    recording = recorded(ana, effort(196.6))
    offer = maximum_offer(ana)
    assert (offer.value, offer.entered, offer.day) == (196, 190, MORNING.date())
    assert (offer.part.workout, offer.sensor) == (recording.workout, recording.sensor)
    assert offer.from_day == MORNING.date()
    assert not offer.confirmed


def test_a_second_workout_within_three_bpm_confirms_it(ana):
    recorded(ana, effort(196))
    recorded(ana, effort(192), day=3)
    assert not maximum_offer(ana).confirmed
    recorded(ana, effort(194), day=6)
    offer = maximum_offer(ana)
    assert (offer.value, offer.confirmed) == (196, True)


def test_a_wrist_is_never_believed(ana):
    recorded(ana, effort(200), device="wrist")
    assert maximum_offer(ana) is None


@pytest.mark.parametrize("peak", [189.9, 185])
def test_a_rate_that_is_not_above_the_entered_one_is_not_offered(ana, peak):
    recorded(ana, effort(peak))
    assert maximum_offer(ana) is None


def test_a_rate_held_for_less_than_five_seconds_is_not_offered(ana):
    rates = effort(186)
    rates[600:603] = 196
    recorded(ana, rates)
    assert maximum_offer(ana) is None


def test_a_peak_with_something_flagged_within_a_minute_is_not_offered(ana):
    rates = effort(196)
    rates[606] = 235
    recorded(ana, rates)
    assert maximum_offer(ana) is None


def test_a_peak_far_from_what_is_flagged_is_offered(ana):
    rates = effort(196)
    rates[1000] = 235
    recorded(ana, rates)
    assert maximum_offer(ana).value == 196


def test_a_strap_that_was_off_for_more_than_a_tenth_is_not_believed(ana):
    rates = effort(196)
    rates[:200] = np.nan
    recorded(ana, rates)
    assert maximum_offer(ana) is None


def test_what_was_declined_is_offered_again_only_two_bpm_beyond(ana):
    recorded(ana, effort(196))
    decline_offer(ana, "maximum", 196)
    assert maximum_offer(ana) is None
    recorded(ana, effort(197), day=3)
    assert maximum_offer(ana) is None
    recorded(ana, effort(198), day=6)
    assert maximum_offer(ana).value == 198


def test_workouts_for_which_an_older_row_holds_do_not_count(ana):
    recorded(ana, effort(196))
    Physiology.objects.create(owner=ana, from_day=date(2026, 3, 10), resting_rate=50, maximum_rate=191)
    assert maximum_offer(ana) is None


def test_a_workout_before_the_only_row_is_offered_from_that_rows_day(ana):
    Physiology.objects.of(ana).update(from_day=date(2026, 3, 10))
    recorded(ana, effort(196))
    offer = maximum_offer(ana)
    assert (offer.day, offer.from_day) == (MORNING.date(), date(2026, 3, 10))


def test_without_physiology_nothing_is_offered():
    assert maximum_offer(athlete("ben")) is None


def test_the_straps_of_others_do_not_count(ana):
    recorded(ana, effort(196))
    assert maximum_offer(equipped_athlete("ben", strap="strap")) is None


def test_the_offer_stands_where_the_account_asks_for_it_and_with_the_part(ana, client):
    client.force_login(ana.user)
    recorded(ana, effort(196))
    assert 'hx-get="/sensors/maximum"' in client.get("/account").content.decode()
    fragment = client.get("/sensors/maximum", headers={"HX-Request": "true"}).content.decode()
    assert "<html" not in fragment
    assert "196 bpm" in fragment
    assert "/account/physiology?maximum_rate=196&amp;from_day=2026-03-02" in fragment
    assert "Only one workout shows it" in fragment
    findings = client.get(f"/sensors/parts/{Part.objects.of(ana).get().pk}/findings").content.decode()
    assert "A higher maximum was measured" in findings
    assert "<h1>Maximum heart rate" in client.get("/sensors/maximum").content.decode()


def test_accepting_opens_the_form_with_the_figure_for_the_athlete_to_save(ana, client):
    client.force_login(ana.user)
    shown = client.get("/account/physiology?maximum_rate=196&from_day=2026-03-02").content.decode()
    assert 'name="maximum_rate" value="196"' in shown
    assert 'name="from_day" value="2026-03-02"' in shown
    assert '<option value="measured" selected' in shown
    assert Physiology.objects.of(ana).get().maximum_rate == 190


def test_without_an_offer_the_fragment_is_empty(ana, client):
    client.force_login(ana.user)
    assert not client.get("/sensors/maximum", headers={"HX-Request": "true"}).content.strip()
    assert "No strap has held a rate above" in client.get("/sensors/maximum").content.decode()
