import re
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from tests.builders import MORNING, athlete, csv_file, equipped_athlete, imported
from trainlog.models import CheckIn, DeclinedOffer, Physiology, Recording
from trainlog.services.check_in import save_check_in

pytestmark = pytest.mark.django_db


@pytest.fixture
def ana(client):
    owner = athlete()
    client.force_login(owner.user)
    return owner


def page(client, query=""):
    return client.get(f"/check-in{query}").content.decode()


def fill(owner, mornings=21, **noted):
    """Mornings up to yesterday."""
    for back in range(1, mornings + 1):
        values = {"resting_rate": 50 + back % 3, "rmssd": 60 + 5 * (back % 4)} | noted
        save_check_in(owner, owner.today() - timedelta(days=back), values)


def test_the_form_is_of_today_unless_another_day_is_named(client, ana):
    assert f'name="day" value="{ana.today():%Y-%m-%d}"' in page(client)
    assert 'name="day" value="2026-03-02"' in page(client, "?day=2026-03-02")


def test_a_day_that_is_none_is_not_found(client, ana):
    assert client.get("/check-in?day=2026-02-30").status_code == 404


def test_what_is_posted_is_kept(client, ana):
    day = ana.today() - timedelta(days=3)
    fields = {"day": day, "resting_rate": "51", "rmssd": "62.5", "sleep_hours": "7.5", "stress": "7"}
    response = client.post("/check-in", fields | {"sleep_quality": "1", "fatigue": "", "note": "late"})
    assert response["Location"] == "/check-in"
    kept = CheckIn.objects.of(ana).get()
    assert (kept.day, kept.resting_rate, kept.rmssd, kept.sleep_hours) == (day, 51, 62.5, 7.5)
    assert (kept.sleep_quality, kept.fatigue, kept.stress, kept.soreness) == (1, None, 7, None)
    assert kept.note == "late"


def test_replacing_a_morning_is_said(client, ana):
    fields = {"day": ana.today(), "resting_rate": "51"}
    assert "in place of" not in client.post("/check-in", fields, follow=True).content.decode()
    assert "in place of what was noted" in client.post("/check-in", fields, follow=True).content.decode()


def test_what_is_noted_already_stands_in_the_form(client, ana):
    save_check_in(ana, ana.today(), {"resting_rate": 51, "fatigue": 6, "note": "a short night"})
    shown = page(client)
    assert 'value="51"' in shown
    assert re.search(r'name="fatigue" value="6"[^>]* checked', shown)
    assert re.search(r'name="stress" value=""[^>]* checked', shown)
    assert "a short night</textarea>" in shown


def test_a_figure_that_cannot_be_is_explained_beside_its_field(client, ana):
    response = client.post("/check-in", {"day": ana.today(), "resting_rate": "300", "fatigue": "4"})
    shown = response.content.decode()
    assert response.status_code == 422
    assert 'id="id_resting_rate_error">A resting heart rate lies between 25 and 120 bpm.' in shown
    assert re.search(r'name="fatigue" value="4"[^>]* checked', shown)
    assert not CheckIn.objects.of(ana).exists()


@pytest.mark.parametrize(
    ("days", "fields", "words"),
    [
        (1, {"resting_rate": "50"}, "still to come"),
        (0, {}, "fill in at least one field"),
        (0, {"fatigue": "8"}, "Select a valid choice"),
    ],
)
def test_what_is_refused_is_explained(client, ana, days, fields, words):
    response = client.post("/check-in", fields | {"day": ana.today() + timedelta(days=days)})
    assert response.status_code == 422
    assert words in response.content.decode()


def test_a_phone_offers_its_number_pad_and_every_item_its_ends_in_words(client, ana):
    shown = page(client)
    assert shown.count('inputmode="decimal"') == 3
    assert shown.count("1 is very, very low, 7 is very, very high.") == 3
    assert shown.count("1 is very, very good, 7 is very, very bad.") == 1


def test_an_empty_log_says_what_will_stand_here(client, ana):
    shown = page(client)
    assert "No morning is noted" in shown
    assert "data-chart" not in shown


def test_few_mornings_say_how_many_are_needed(client, ana):
    fill(ana, 10)
    assert "too few mornings yet (4 of 14)" in page(client)


def test_enough_mornings_show_where_both_means_lie_and_draw_them(client, ana):
    fill(ana)
    shown = page(client)
    assert shown.count("your usual band, ") >= 2
    assert 'data-chart="rmssd-spec"' in shown
    assert 'data-chart="rate-spec"' in shown


def test_a_resting_rate_far_above_is_first_measured_again_and_then_a_clinicians(client, ana):
    fill(ana)
    assert "see a clinician" not in page(client)
    save_check_in(ana, ana.today(), {"resting_rate": 75})
    shown = page(client)
    assert 0 < shown.index("First check the measurement") < shown.index("see a clinician")


def test_a_note_cannot_bring_markup(client, ana):
    save_check_in(ana, ana.today(), {"note": "<script>alert(1)</script>"})
    assert "<script>alert" not in page(client)


def test_the_page_carries_the_care_note(client, ana):
    assert "Stop and get medical help for chest pain" in page(client)


def test_earlier_mornings_are_folded_away(client, ana):
    fill(ana, 16)
    assert "2 earlier mornings" in page(client)


def rr_file(beats=100):
    rr_ms = 900 + 30 * np.sin(np.arange(beats))
    return SimpleUploadedFile("morning.txt", "\n".join(f"{value:.0f}" for value in rr_ms).encode())


def test_a_file_of_rr_intervals_gives_rmssd_and_says_its_quality(client, ana):
    fields = {"day": ana.today(), "fatigue": "3", "rr_file": rr_file()}
    shown = client.post("/check-in", fields, follow=True).content.decode()
    assert "from 100 beats of which 0.0% had to be corrected" in shown
    kept = CheckIn.objects.of(ana).get()
    assert (kept.fatigue, kept.rmssd_beats, kept.rmssd_corrected_share) == (3, 100, 0)
    assert page(client).count("from 100 beats") == 1
    assert not Recording.objects.exists()


def test_the_page_says_that_the_file_is_not_kept(client, ana):
    assert "the file is not kept" in page(client)


@pytest.mark.parametrize(
    ("fields", "words"),
    [({}, "60 s are needed"), ({"rmssd": "60"}, "not both")],
)
def test_a_refused_file_is_explained_beside_it_and_nothing_is_saved(client, ana, fields, words):
    response = client.post("/check-in", fields | {"day": ana.today(), "fatigue": "3", "rr_file": rr_file(20)})
    shown = response.content.decode()
    assert response.status_code == 422
    assert words in shown[shown.index('id="id_rr_file_error"') :][:200]
    assert not CheckIn.objects.exists()


def test_an_empty_file_is_explained(client, ana):
    fields = {"day": ana.today(), "fatigue": "3", "rr_file": SimpleUploadedFile("morning.txt", b"")}
    response = client.post("/check-in", fields)
    assert response.status_code == 422
    assert "empty" in response.content.decode()


def test_a_morning_is_deleted_once_that_is_confirmed(client, ana):
    save_check_in(ana, MORNING.date(), {"resting_rate": 51})
    address = f"/check-in/{MORNING.date()}/delete"
    assert f'href="{address}"' in page(client, f"?day={MORNING.date()}")
    assert "Delete the morning of Monday, 2 March 2026?" in client.get(address).content.decode()
    assert CheckIn.objects.exists()
    assert "Deleted: morning of 2 March 2026." in client.post(address, follow=True).content.decode()
    assert not CheckIn.objects.exists()


def test_a_morning_without_a_check_in_cannot_be_deleted(client, ana):
    save_check_in(athlete("ben"), MORNING.date(), {"resting_rate": 51})
    assert client.post(f"/check-in/{MORNING.date()}/delete").status_code == 404
    assert "/delete" not in page(client, f"?day={MORNING.date()}")
    assert CheckIn.objects.exists()


def test_a_rate_above_the_maximum_is_a_sensor_to_check_first(client):
    owner = equipped_athlete("ana", strap="strap", wrist="wrist")
    client.force_login(owner.user)
    start = datetime.now(UTC).replace(microsecond=0) - timedelta(hours=3)
    recording = imported(owner, csv_file(start, bpm=205, device="wrist"))
    for shown in (page(client), client.get(f"/workouts/{recording.workout_id}").content.decode()):
        steps = ("may lock on to your steps", "First check the measurement", "Repeat it", "see a clinician")
        places = [shown.index(words) for words in steps]
        assert places == sorted(places)
        assert "205 bpm or more for 30 s" in shown
        assert "no finding about your heart" in shown
    assert f'href="/workouts/{recording.workout_id}"' in page(client)


def test_a_settled_resting_rate_is_offered_and_can_be_declined(client, ana):
    Physiology.objects.create(owner=ana, from_day="2026-01-01", resting_rate=44, maximum_rate=190)
    fill(ana)
    for address in ("/check-in", "/account"):
        shown = client.get(address).content.decode()
        assert "Your mornings have settled at a resting rate of 51 bpm" in shown
        day = f"{ana.today() - timedelta(days=1):%Y-%m-%d}"
        assert f'href="/account/physiology?resting_rate=51&amp;from_day={day}"' in shown
    assert (
        client.post("/account/offers/decline", {"kind": "resting", "value": "51"})["Location"] == "/account"
    )
    assert "have settled" not in page(client)
    assert Physiology.objects.get().resting_rate == 44


@pytest.mark.parametrize("fields", [{}, {"kind": "mood", "value": "5"}, {"kind": "resting", "value": "nan"}])
def test_declining_what_was_never_offered_changes_nothing(client, ana, fields):
    shown = client.post("/account/offers/decline", fields, follow=True).content.decode()
    assert "There is no such offer" in shown
    assert not DeclinedOffer.objects.exists()


def test_once_this_morning_is_noted_the_page_begins_with_what_it_says(client, ana):
    assert "noted-today" not in page(client)
    save_check_in(ana, ana.today(), {"resting_rate": 51, "fatigue": 3})
    assert "This morning is noted: resting 51 bpm, tired 3 of 7" in page(client)
    assert "noted-today" not in page(client, f"?day={ana.today()}")


def test_the_mean_of_rmssd_is_told_in_milliseconds(client, ana):
    fill(ana, rmssd=60)
    assert re.search(r"60 ms <span[^>]*>inside your usual band, 60 to 60 ms \(ln 4\.09;", page(client))
