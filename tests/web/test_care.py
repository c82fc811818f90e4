from datetime import date, timedelta

import pytest
from django.template.loader import render_to_string
from django.utils import timezone

from tests.builders import MORNING, athlete, estimate, intensity, part
from trainlog.models import Care
from trainlog.services.athletes import Physiology, set_physiology
from trainlog.services.care import care_of, save_care
from trainlog.services.check_in import save_check_in
from trainlog.services.recovery_check import claim_recovery

pytestmark = pytest.mark.django_db

WORDS = Care(**dict.fromkeys(Care.ticks(), True)).ticked


@pytest.fixture
def ana(client):
    owner = athlete()
    client.force_login(owner.user)
    return owner


def page(client, address):
    return client.get(address).content.decode()


def mornings(owner):
    for back in range(1, 22):
        noted = {"resting_rate": 50 + back % 3, "rmssd": 60 + 5 * (back % 4)}
        save_check_in(owner, owner.today() - timedelta(days=back), noted)


def test_every_tick_is_offered_and_described_as_private(client, ana):
    shown = page(client, "/account/care")
    assert "shown to nobody else, in no table to take along and not in the API" in shown
    for name in Care.ticks():
        assert f'name="{name}"' in shown


def test_ticks_are_kept_and_shown_ticked(client, ana):
    response = client.post("/account/care", {"pacemaker": "on", "illness": "on"})
    assert response["Location"] == "/account/care"
    assert care_of(ana).ticked == [
        "a pacemaker or an implanted defibrillator",
        "an illness with fever at present",
    ]
    assert page(client, "/account/care").count(" checked") >= 2


def test_ticks_can_be_taken_back_one_by_one_or_all_at_once(client, ana):
    client.post("/account/care", {"pacemaker": "on", "illness": "on"})
    client.post("/account/care", {"illness": "on"})
    assert care_of(ana).ticked == ["an illness with fever at present"]
    client.post("/account/care", {"illness": "on", "clear": "all"})
    assert not Care.objects.exists()
    assert "Clear every tick" not in page(client, "/account/care")


@pytest.mark.parametrize("address", ["/check-in", "/week", "/method", "/account/physiology", "/sensors/"])
def test_the_care_note_is_worded_by_the_ticks(client, ana, address):
    assert "You have ticked" not in page(client, address)
    save_care(ana, {"slowing_medicine": True, "pregnancy": True})
    shown = page(client, address)
    assert "You have ticked a medicine that slows the heart and pregnancy: heart rate may not follow" in shown
    assert "Stop and get medical help for chest pain" in shown
    assert "ask a clinician" in shown


def test_what_is_ticked_is_marked_to_be_left_out_of_print(client, ana):
    save_care(ana, {"slowing_medicine": True})
    assert '<p class="ticked">You have ticked' in page(client, "/method")


def test_a_medicine_withholds_the_usual_band_of_mornings(client, ana):
    mornings(ana)
    assert "your usual band, " in page(client, "/check-in")
    save_care(ana, {"slowing_medicine": True})
    save_check_in(ana, ana.today(), {"resting_rate": 75})
    shown = page(client, "/check-in")
    assert "your usual band" not in shown
    assert "above your mornings before" in shown
    assert shown.count("not held against a usual band") == 2
    assert "moves the resting rate and rMSSD by itself" in shown


def test_under_an_irregular_rhythm_rmssd_is_said_to_mean_nothing(client, ana):
    mornings(ana)
    save_care(ana, {"irregular_rhythm": True})
    shown = page(client, "/check-in")
    assert "rMSSD says nothing of rest" in shown
    assert "moves the resting rate" not in shown


def test_pregnancy_leaves_the_usual_band_and_words_the_note(client, ana):
    mornings(ana)
    save_care(ana, {"pregnancy": True})
    shown = page(client, "/check-in")
    assert "your usual band, " in shown
    assert "You have ticked pregnancy" in shown


def test_weeks_are_still_compared_with_a_remark(client, ana):
    estimate(part(ana, MORNING), 80)
    estimate(part(ana, MORNING - timedelta(days=7)), 60)
    assert "may not compare" not in page(client, f"/week/{MORNING.date()}")
    save_care(ana, {"quickening_medicine": True})
    shown = page(client, f"/week/{MORNING.date()}")
    assert "may not compare across a change of medicine" in shown
    assert "than the week before" in shown


def test_the_place_of_withheld_advice_says_why(ana):
    save_care(ana, {"heart_condition": True})
    shown = render_to_string("_advice_off.html", {"care": care_of(ana)})
    assert "Nothing is advised here." in shown
    assert "You have ticked another heart condition." in shown
    assert "session-RPE" in shown


def test_recovery_is_not_advised_where_anything_is_ticked(client, ana):
    hard = part(ana, timezone.now().replace(microsecond=0) - timedelta(hours=20), 60)
    estimate(hard, 100.0)
    intensity(hard, high=60)
    addresses = ["/recovery", "/check-in", f"/workouts/{hard.workout_id}"]
    for address in addresses:
        shown = page(client, address)
        assert "next hard session" in shown
        assert "Nothing is advised here." not in shown
    save_care(ana, {"pregnancy": True})
    for address in addresses:
        shown = page(client, address)
        assert "Nothing is advised here." in shown
        assert "next hard session" not in shown
        assert "Ready, from" not in shown


def test_claimed_hours_are_noted_but_not_made_into_advice_where_anything_is_ticked(client, ana):
    for hours_ago in (20, 60):
        workout = part(ana, timezone.now() - timedelta(hours=hours_ago), 60).workout
        claim_recovery(workout, "wrist", 20)
    claim_recovery(workout, "strap", 30)
    assert "With strap, likely" in page(client, "/recovery/claimed")
    save_care(ana, {"illness": True})
    shown = page(client, "/recovery/claimed")
    assert "With strap, likely" not in shown
    assert "1.50" in shown
    assert "Hours that your device claimed" in page(client, f"/workouts/{workout.pk}")


@pytest.mark.parametrize(
    "address",
    [
        "/api/openapi.json",
        "/api/workouts",
        "/api/check-ins",
        "/api/estimates",
        "/api/profiles",
        "/api/strap-plan",
        f"/api/weeks/{MORNING.date()}",
    ],
)
def test_no_tick_is_in_the_api(client, ana, address):
    set_physiology(ana, Physiology(from_day=date(2026, 1, 1), resting_rate=50, maximum_rate=190))
    estimate(part(ana, MORNING), 80)
    save_care(ana, dict.fromkeys(Care.ticks(), True))
    answer = client.get(address)
    assert answer.status_code == 200
    said = answer.content.decode()
    assert [word for word in (*WORDS, *Care.ticks()) if word in said] == []
    assert "ticked" not in said
