import re
from datetime import timedelta

import pytest

from tests.builders import athlete
from trainlog.models import CheckIn
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
