"""The page and the operations of the evidence reports."""

import json
import re

import pytest
from django.test import Client

from accuracy.models import Report
from accuracy.services.reports import ask_for_report, claim_report, keep_report, set_aside
from tests.accuracy.pair_builders import kept_pair
from tests.builders import MORNING, sensor

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("data_folder")]

PAGE = "/sensors/reports"
FILES = {"html": b"<!doctype html>" + b" " * 2_000_000, "pdf": b"%PDF", "zip": b"PK"}


@pytest.fixture
def wrist(ana):
    return kept_pair(ana).tested.sensor


@pytest.fixture
def browser(ana):
    client = Client()
    client.force_login(ana.user)
    return client


@pytest.fixture
def waiting(ana, wrist):
    return ask_for_report(ana, [wrist])


@pytest.fixture
def made(waiting):
    keep_report(claim_report(waiting.pk), FILES)
    return waiting


def text(answer):
    words = re.sub(r"<[^>]+>", " ", answer.content.decode())
    return re.sub(r"\s+", " ", words.replace("\xa0", " "))


def ticked(answer):
    return re.findall(r'name="(\w+)"[^>]* checked', answer.content.decode())


def test_without_a_pair_the_page_says_what_a_report_needs(browser):
    shown = browser.get(PAGE)
    assert "at least one session recorded by a strap and another sensor" in text(shown)
    assert b"<button>Make the report" not in shown.content


def test_names_are_left_out_unless_the_tick_is_taken_away(browser, wrist):
    assert "anonymised" in ticked(browser.get(PAGE))


def test_the_only_sensor_is_chosen_at_first(browser, wrist):
    assert ticked(browser.get(PAGE)) == ["sensors", "anonymised"]


def test_of_two_sensors_the_one_is_chosen_whose_page_led_here(browser, ana, wrist):
    other = sensor(ana, "other wrist")
    pair = kept_pair(ana, day=1)
    pair.tested.sensor = other
    pair.tested.save()
    assert ticked(browser.get(PAGE)) == ["anonymised"]
    led = browser.get(PAGE, {"sensor": other.pk}).content.decode()
    assert re.search(rf'name="sensors" value="{other.pk}"[^>]* checked', led)
    assert led.count(" checked") == 2


def test_asking_notes_the_wish_and_shows_it_being_made(browser, wrist):
    shown = browser.post(PAGE, {"sensors": wrist.pk, "last_day": "2026-03-31"}, follow=True)
    report = Report.objects.get()
    assert (report.anonymised, report.first_day, str(report.last_day)) == (False, None, "2026-03-31")
    assert "being made" in text(shown)
    assert "with names and days · sessions until 31 Mar 2026" in text(shown)


def test_a_wish_that_cannot_be_is_explained_beside_its_field(browser, wrist):
    refused = browser.post(PAGE, {"sensors": wrist.pk, "first_day": "2026-03-05", "last_day": "2026-03-01"})
    assert refused.status_code == 422
    assert "The last day must not be before the first." in text(refused)
    refused = browser.post(PAGE, {})
    assert "Choose at least one sensor." in text(refused)
    assert not Report.objects.exists()


def test_a_waiting_list_asks_for_itself_again_and_a_finished_one_does_not(browser, waiting):
    again = 'hx-trigger="every 2s"'
    listed = browser.get(PAGE, headers={"HX-Request": "true"}).content.decode()
    assert again in listed
    assert "<html" not in listed
    assert "Look again" in listed
    keep_report(claim_report(waiting.pk), FILES)
    assert again not in browser.get(PAGE, headers={"HX-Request": "true"}).content.decode()


def test_a_list_that_is_as_it_was_is_not_sent_and_not_read_out_again(browser, waiting):
    asks_again = re.search(r'hx-get="([^"]+)"', browser.get(PAGE).content.decode())[1]
    assert browser.get(asks_again, headers={"HX-Request": "true"}).status_code == 204
    keep_report(claim_report(waiting.pk), FILES)
    assert b"PDF" in browser.get(asks_again, headers={"HX-Request": "true"}).content


def test_each_file_is_offered_with_its_size(browser, made):
    assert re.search(r"Page of .{0,20} 1\.9 MB PDF of .{0,20} 4 bytes ZIP of", text(browser.get(PAGE)))


def test_a_report_that_could_not_be_made_says_why(browser, waiting):
    set_aside(claim_report(waiting.pk), "No session was recorded.")
    assert "Not made. No session was recorded." in text(browser.get(PAGE))


@pytest.mark.parametrize(
    ("kind", "media_type"),
    [("html", "text/html; charset=utf-8"), ("pdf", "application/pdf"), ("zip", "application/zip")],
)
def test_a_file_is_a_download_and_never_shown_by_the_site(browser, made, kind, media_type):
    answer = browser.get(f"{PAGE}/{made.pk}/report.{kind}")
    assert answer.content == FILES[kind]
    assert answer["Content-Type"] == media_type
    assert answer["Content-Disposition"] == f'attachment; filename="report-{made.pk}.{kind}"'
    assert answer["X-Content-Type-Options"] == "nosniff"


def test_the_policy_of_a_file_is_as_strict_as_that_of_a_page(browser, made):
    of_page = browser.get(PAGE)["Content-Security-Policy"]
    assert browser.get(f"{PAGE}/{made.pk}/report.html")["Content-Security-Policy"] == of_page
    assert "unsafe-inline" not in of_page


def test_a_file_that_is_not_made_is_not_there(browser, waiting):
    assert browser.get(f"{PAGE}/{waiting.pk}/report.pdf").status_code == 404


def test_a_report_is_deleted(browser, made):
    shown = browser.post(f"{PAGE}/{made.pk}/delete", follow=True)
    assert "The report is deleted." in text(shown)
    assert not Report.objects.exists()


def test_the_sensors_page_leads_here(browser):
    assert f'href="{PAGE}"' in browser.get("/sensors/").content.decode()


def test_a_sensors_page_of_an_activity_leads_here_with_it_chosen(browser, wrist):
    activity = kept_pair(wrist.owner, day=1).part.activity
    profile = browser.get(f"/sensors/{wrist.pk}/activities/{activity.pk}").content.decode()
    assert f'href="{PAGE}?sensor={wrist.pk}"' in profile


def sent(browser, wish):
    return browser.post("/api/reports", json.dumps(wish), content_type="application/json")


def test_a_program_asks_for_a_report_by_the_names_of_sensors(browser, wrist):
    answer = sent(browser, {"sensors": [wrist.name], "last_day": "2026-03-31"})
    assert answer.status_code == 202
    told = answer.json()
    report = Report.objects.get()
    assert told["id"] == report.pk
    assert (told["state"], told["sensors"], told["anonymised"]) == ("waiting", ["wrist"], True)
    assert told["last_day"] == "2026-03-31"
    assert told["bytes_by_kind"] == {}


@pytest.mark.parametrize(
    ("wish", "words"),
    [
        ({"sensors": ["ring"]}, "no sensor called ring"),
        ({"sensors": []}, "sensors"),
        ({"sensors": ["strap"]}, "No session was recorded by a strap and strap"),
        ({"sensors": ["wrist"], "last_day": "2026-01-01"}, "on these days"),
    ],
)
def test_what_cannot_be_reported_is_a_problem_in_words(browser, wrist, wish, words):
    answer = sent(browser, wish)
    assert answer.status_code == 422
    assert words in answer.json()["detail"]


def test_a_program_follows_the_state_and_takes_the_files(browser, made):
    (listed,) = browser.get("/api/reports").json()
    assert listed == browser.get(f"/api/reports/{made.pk}").json()
    assert listed["state"] == "made"
    assert listed["bytes_by_kind"] == {"html": len(FILES["html"]), "pdf": 4, "zip": 2}
    assert browser.get(f"/api/reports/{made.pk}/file").content == b"%PDF"
    assert browser.get(f"/api/reports/{made.pk}/file?form=zip").content == b"PK"
    assert browser.get(f"/api/reports/{made.pk}/file?form=doc").status_code == 422


def test_a_program_deletes_a_report(browser, made):
    assert browser.delete(f"/api/reports/{made.pk}").status_code == 204
    assert browser.get("/api/reports").json() == []
    assert browser.get(f"/api/reports/{made.pk}").status_code == 404


def test_days_of_a_report_are_days_of_a_log(browser, wrist):
    day = MORNING.date().isoformat()
    assert sent(browser, {"sensors": [wrist.name], "first_day": day, "last_day": day}).status_code == 202
    assert sent(browser, {"sensors": [wrist.name], "first_day": "0001-01-01"}).status_code == 422
