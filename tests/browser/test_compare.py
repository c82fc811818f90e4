"""Comparing sensors, and the matrix, through a real browser at two widths."""

from __future__ import annotations

from datetime import timedelta

import pytest
from playwright.sync_api import expect

from tests.accuracy.comparison_builders import worn
from tests.accuracy.test_web import learned
from tests.browser.test_journey import assert_sound, sign_in
from tests.builders import MORNING
from trainlog.models import Athlete, Sensor
from trainlog.services.sensors import note_firmware

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def ana(ana, settings, tmp_path) -> Athlete:
    """Someone who wore two wrist sensors with the strap five times, and one of them four times more."""
    settings.DATA_FOLDER = tmp_path
    for day in range(3):
        worn(ana, day, left=-2 - day, right=-9 - 2 * day)
    for day in (3, 4):
        worn(ana, day, left=-3, right=-8 + day, activity="ride")
    for day in range(6, 10):
        worn(ana, day, left=-1)
    return ana


def test_two_sensors_are_compared_and_what_is_compared_can_be_chosen(page, live_server, ana):
    sign_in(page, live_server)
    page.goto(f"{live_server.url}/sensors/")
    page.get_by_role("link", name="Compare sensors").click()

    expect(page.get_by_text("In 5 sessions of one person, recorded by both")).to_be_visible()
    expect(page.locator("figure[data-drawn]")).to_have_count(1)
    assert_sound(page)

    page.get_by_text("The sessions as a table").click()
    page.get_by_text("How it is compared").click()
    page.get_by_text("Choose sensors, sessions, activities and days").click()
    expect(page.get_by_role("checkbox", name="ride")).to_be_visible()
    assert_sound(page)

    page.get_by_role("checkbox", name="ride").check()
    page.get_by_role("radio", name="the same: both sensors were worn in them").check()
    page.get_by_role("button", name="Compare").click()
    expect(page.get_by_text("In 2 sessions of one person, recorded by both")).to_be_visible()
    expect(page.get_by_text("nothing can be said of which is nearer")).to_be_visible()


def test_matched_sessions_show_who_was_left_out(page, live_server, ana):
    sign_in(page, live_server)
    page.goto(f"{live_server.url}/sensors/compare?sessions=matched")

    expect(page.get_by_text("weaker evidence than wearing both")).to_be_visible()
    page.get_by_text("4 sessions left out").click()
    expect(page.get_by_role("region", name="Sessions left out")).to_be_visible()
    assert_sound(page)


def test_a_wrong_choice_is_explained_beside_it(page, live_server, ana):
    sign_in(page, live_server)
    page.goto(f"{live_server.url}/sensors/compare")
    page.get_by_text("Choose sensors, sessions, activities and days").click()
    page.get_by_role("checkbox", name="left", exact=True).check()
    page.get_by_role("button", name="Compare").click()

    expect(page.get_by_text("Choose two sensors or more")).to_be_visible()
    # The browser's console tells of every answer that is not 2xx.
    assert [said for said in page.complaints if "422" not in said] == []
    page.complaints.clear()


def test_the_file_holds_what_the_page_shows(page, live_server, ana):
    sign_in(page, live_server)
    page.goto(f"{live_server.url}/sensors/compare?activity=ride&sessions=same")
    with page.expect_download() as download:
        page.get_by_role("link", name="One row a session, CSV").click()

    lines = download.value.path().read_text().splitlines()
    assert len(lines) == 3


def test_the_page_is_read_without_javascript(browser, live_server, ana, client):
    client.force_login(ana.user)
    context = browser.new_context(java_script_enabled=False)
    context.add_cookies(
        [{"name": "sessionid", "value": client.cookies["sessionid"].value, "url": live_server.url}]
    )
    page = context.new_page()
    page.goto(f"{live_server.url}/sensors/compare")

    expect(page.get_by_text("In 5 sessions of one person, recorded by both")).to_be_visible()
    expect(page.get_by_role("row", name="mean absolute error", exact=False).first).to_be_visible()
    context.close()


def test_a_verdict_opens_its_reason_by_keyboard(page, live_server, ana):
    tested = Sensor.objects.of(ana).get(name="left")
    note_firmware(tested, "1.0", MORNING.date())
    note_firmware(tested, "2.0", (MORNING + timedelta(days=4)).date())
    learned(ana, tested)
    sign_in(page, live_server)
    page.goto(f"{live_server.url}/sensors/")
    verdict = page.locator(".matrix summary").first
    verdict.focus()
    page.keyboard.press("Enter")

    expect(page.get_by_text("Because four pairs say so.").first).to_be_visible()
    assert page.url.endswith("/sensors/")
    assert_sound(page)

    page.get_by_role("link", name="reads 12% low").click()
    expect(page.get_by_role("heading", name="Under each firmware")).to_be_visible()
    assert_sound(page)
