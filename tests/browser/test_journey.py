"""Journeys of a person through a real browser, at two widths, under the real content security policy."""

from __future__ import annotations

from datetime import timedelta

import numpy as np
import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import FilePayload, Page, expect

from accuracy.services.learn import learn
from fixtures import csv_writer
from tests.builders import MORNING
from trainlog.models import Athlete, CheckIn, LoadEstimate, Part, Recording, Sensor
from trainlog.readers.reading import Segment
from trainlog.services.edit_workout import set_sensor
from trainlog.services.import_files import read_recording, receive
from trainlog.trace import Trace

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def sign_in(page: Page, live_server) -> None:
    page.goto(f"{live_server.url}/sign-in")
    page.get_by_label("Username").fill("ana")
    page.get_by_label("Password").fill("a long password")
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_url(f"{live_server.url}/")


def session_file(day: int, device: str, share: float, *, minutes: int = 20) -> FilePayload:
    """File of an interval session for the picker; ``share`` is how much of the rise a sensor sees."""
    seconds = np.arange(minutes * 60)
    true = 120 + 30 * np.sin(2 * np.pi * seconds / 240) + 0.5 * np.sin(seconds / 7)
    start = MORNING + timedelta(days=day)
    trace = Trace(start=start, heart_rate=np.round(50 + share * (true - 50)))
    content = csv_writer.write(trace, device, [Segment(start, trace.end, "running")])
    return {"name": f"{day} {device}.csv", "mimeType": "text/csv", "buffer": content}


def work_through_the_queue(owner: Athlete) -> None:
    """Do what workers do, in this process."""
    for recording in Recording.objects.of(owner).filter(state=Recording.State.RECEIVED):
        read_recording(recording.pk)
    while not learn(owner):
        pass


def answer(page: Page, name: str) -> None:
    """Say of the first file asked about which sensor recorded it."""
    asked = page.locator(".asks").filter(has=page.locator("b", has_text=name))
    asked.get_by_label("Recorded by").select_option(
        label="belt (chest)" if "chest" in name else "left wrist (wrist)"
    )
    asked.get_by_role("button", name="Set").click()
    expect(asked).to_have_count(0)


def assert_sound(page: Page) -> None:
    """No sideways scrolling, and nothing that axe finds wrong."""
    sideways = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
    assert sideways <= 0, f"{page.url} scrolls sideways by {sideways} px"
    result = Axe().run(page)
    assert result.violations_count == 0, f"{page.url}\n{result.generate_report()}"


def fill(owner: Athlete) -> None:
    """Put two pairs and a wrist-only session into a log, as uploads would."""
    for day, device, share in (
        (0, "chest", 1),
        (0, "left", 0.8),
        (1, "chest", 1),
        (1, "left", 0.82),
        (2, "left", 0.8),
    ):
        file = session_file(day, device, share)
        read_recording(receive(owner, file["name"], file["buffer"]).pk)
    for name in ("chest", "left"):
        recording = Recording.objects.of(owner).filter(file_name__contains=name)[0]
        chosen = Sensor.objects.of(owner).get(name="belt" if name == "chest" else "left wrist")
        set_sensor(recording, chosen)
    work_through_the_queue(owner)


def test_files_become_a_corrected_load_with_its_interval(page, live_server, ana):
    sign_in(page, live_server)
    expect(page.get_by_text("Three steps to a load")).to_be_visible()

    pair = [
        session_file(day, device, share)
        for day in range(3)
        for device, share in (("chest", 1), ("left", 0.8))
    ]
    page.locator("#files").set_input_files([*pair, session_file(7, "left", 0.8)])
    expect(page.get_by_label("0 of 7 files read")).to_be_visible()
    work_through_the_queue(ana)
    expect(page.locator(".asks")).to_have_count(2)
    answer(page, "chest")
    answer(page, "left")
    work_through_the_queue(ana)

    wrist_only = page.locator(".lines li").first
    expect(wrist_only).to_contain_text("corrected")
    expect(wrist_only.locator("svg.interval.corrected .band")).to_be_visible()
    estimate = LoadEstimate.objects.of(ana).get(measure="trimp", part=Part.objects.of(ana).last())
    assert (estimate.raw or 0) < estimate.low < estimate.median < estimate.high
    expect(wrist_only).to_contain_text(f"{estimate.median:.0f}")
    expect(wrist_only).to_contain_text(f"{estimate.low:.0f}–{estimate.high:.0f}")
    assert_sound(page)


def test_the_workout_page_fetches_the_findings_by_itself(page, live_server, ana):
    fill(ana)
    sign_in(page, live_server)
    page.get_by_role("link", name="run").last.click()
    page.get_by_text("left wrist against belt: bias").click()
    expect(page.get_by_text("95% limits of agreement")).to_be_visible()


def test_why_opens_the_reason(page, live_server, ana):
    fill(ana)
    sign_in(page, live_server)
    page.goto(f"{live_server.url}/week/2026-03-02")
    reason = LoadEstimate.objects.of(ana).filter(measure="trimp")[0].reason
    expect(page.get_by_text(reason).first).to_be_hidden()
    page.locator("details.flag summary").first.click()
    expect(page.get_by_text(reason).first).to_be_visible()


def test_pointing_at_the_chart_tells_both_rates(page, live_server, ana):
    fill(ana)
    sign_in(page, live_server)
    page.get_by_role("link", name="run").last.click()
    canvas = page.locator("[data-drawn] canvas")
    box = canvas.bounding_box()
    page.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    expect(page.locator("#vg-tooltip-element")).to_contain_text("left wrist, bpm")


def test_a_session_is_typed_in_without_javascript(browser, live_server, ana):
    context = browser.new_context(java_script_enabled=False, viewport={"width": 390, "height": 900})
    page = context.new_page()
    sign_in(page, live_server)
    page.get_by_role("link", name="Log a session without a file").click()
    page.get_by_label("or other minutes").fill("40")
    page.get_by_label("Activity").select_option(label="lifting")
    page.get_by_role("radio", name="7", exact=True).check(force=True)
    page.get_by_role("button", name="Log it").click()
    expect(page.get_by_text("Add its sets?")).to_be_visible()
    page.get_by_label("Exercise").fill("squat")
    page.get_by_label("Reps").fill("5")
    page.get_by_label("Load, kg").fill("100")
    page.get_by_role("button", name="Add sets").click()
    expect(page.locator(".set-table")).to_contain_text("squat")
    page.get_by_role("link", name="Log", exact=True).click()
    expect(page.locator(".lines li").first).to_contain_text("lifting")
    assert Part.objects.of(ana).get().session_rpe == 7
    context.close()


def test_a_morning_is_noted_without_javascript(browser, live_server, ana):
    context = browser.new_context(java_script_enabled=False, viewport={"width": 390, "height": 900})
    page = context.new_page()
    sign_in(page, live_server)
    page.get_by_role("link", name="Morning").click()
    page.get_by_label("Resting rate, bpm").fill("51")
    sleep = page.get_by_role("group", name="How was your sleep?")
    sleep.get_by_role("radio", name="2", exact=True).check(force=True)
    page.get_by_role("button", name="Save").click()
    expect(page.locator(".mornings tbody tr")).to_contain_text("51")
    kept = CheckIn.objects.of(ana).get()
    assert (kept.resting_rate, kept.sleep_quality, kept.fatigue) == (51, 2, None)
    context.close()


def test_files_are_added_without_javascript(browser, live_server, ana):
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    sign_in(page, live_server)
    page.locator("#files").set_input_files([session_file(0, "left", 0.8)])
    page.get_by_role("button", name="Add", exact=True).click()
    expect(page.locator(".waits")).to_have_count(1)
    context.close()
