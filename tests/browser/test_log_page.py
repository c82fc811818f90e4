"""The log page in a real browser, at both widths: files read, several changed, deleted and put back."""

from __future__ import annotations

from datetime import timedelta

import numpy as np
import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import FilePayload, Page, expect

from accuracy.models import Pair
from accuracy.services.learn import learn
from fixtures import csv_writer
from tests.builders import MORNING, part
from trainlog.models import Athlete, Deletion, LoadEstimate, Part, Recording, Sensor, Workout
from trainlog.readers.reading import Segment
from trainlog.services.import_files import read_recording
from trainlog.trace import Trace

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture(autouse=True)
def named_sensors(ana: Athlete) -> None:
    for name, key in (("belt", "csv:chest"), ("left wrist", "csv:left")):
        Sensor.objects.of(ana).filter(name=name).update(source_key=key)


def sign_in(page: Page, live_server) -> None:
    page.goto(f"{live_server.url}/sign-in", timeout=60_000)  # the first page of a process takes its time
    page.get_by_label("Username").fill("ana")
    page.get_by_label("Password").fill("a long password")
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_url(f"{live_server.url}/")


def session_file(device: str, share: float, day: int = 0) -> FilePayload:
    """File of twenty minutes of intervals; ``share`` is how much of the rise a sensor sees."""
    seconds = np.arange(20 * 60)
    true = 120 + 30 * np.sin(2 * np.pi * seconds / 240) + 0.5 * np.sin(seconds / 7)
    start = MORNING + timedelta(days=day)
    trace = Trace(start, np.round(50 + share * (true - 50)))
    content = csv_writer.write(trace, device, [Segment(start, trace.end, "running")])
    return {"name": f"{day} {device}.csv", "mimeType": "text/csv", "buffer": content}


def work_through_the_queue(owner: Athlete) -> None:
    for recording in Recording.objects.of(owner).filter(state=Recording.State.RECEIVED):
        read_recording(recording.pk)
    while not learn(owner):
        pass


def days_of_runs(owner: Athlete, count: int) -> None:
    for day in range(count):
        part(owner, MORNING + timedelta(days=day), session_rpe=5)
    work_through_the_queue(owner)


def assert_sound(page: Page) -> None:
    sideways = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
    assert sideways <= 0, f"{page.url} scrolls sideways by {sideways} px"
    result = Axe().run(page)
    assert result.violations_count == 0, f"{page.url}\n{result.generate_report()}"


def test_two_files_dropped_are_followed_until_they_are_a_pair(page, live_server, ana):
    sign_in(page, live_server)
    page.locator("#files").set_input_files([session_file("chest", 1), session_file("left", 0.8)])
    expect(page.get_by_label("0 of 2 files read")).to_be_visible()
    expect(page.locator(".waits")).to_have_count(2)
    first = Recording.objects.of(ana).order_by("pk").first()
    assert first is not None
    read_recording(first.pk)
    expect(page.get_by_label("1 of 2 files read")).to_be_visible()
    expect(page.locator("#just-read")).to_contain_text("no wrist file of this session yet")
    work_through_the_queue(ana)
    expect(page.locator("#just-read")).to_contain_text("makes a pair with left wrist")
    expect(page.locator("#just-read")).to_contain_text("nothing missing")
    expect(page.locator(".lines li")).to_contain_text("measured")
    assert Pair.objects.of(ana).get().usable
    assert_sound(page)


def test_a_file_that_is_there_already_is_told_for_as_long_as_nothing_else_is_added(page, live_server, ana):
    sign_in(page, live_server)
    file = session_file("left", 0.8)
    read_recording(_received(page, ana, file).pk)
    page.locator("#files").set_input_files([file, session_file("left", 0.8, day=1)])
    told = page.locator("#said")
    expect(told).to_contain_text("is in your log already: run of 2 March 2026.")
    work_through_the_queue(ana)
    expect(page.locator("#just-read")).to_contain_text("1 left.csv")
    expect(told).to_contain_text("is in your log already")


def _received(page: Page, owner: Athlete, file: FilePayload) -> Recording:
    page.locator("#files").set_input_files([file])
    expect(page.locator(".waits")).to_have_count(1)
    return Recording.objects.of(owner).get()


def test_more_files_than_are_taken_at_once_are_not_sent(page, live_server, ana, settings):
    settings.MAX_FILES_AT_ONCE = 2
    sign_in(page, live_server)
    page.locator("#files").set_input_files([session_file("left", 1, day=day) for day in range(3)])
    expect(page.locator("#said")).to_contain_text("These are 3 files. Add at most 2 at a time")
    assert not Recording.objects.exists()


def test_all_of_a_week_are_chosen_and_get_another_activity(page, live_server, ana):
    days_of_runs(ana, 9)
    sign_in(page, live_server)
    expect(page.locator("input.pick").first).to_be_hidden()
    page.get_by_text("Change several workouts").click()
    older = page.locator("section.week").last
    older.get_by_label("all of this week").check()
    expect(page.get_by_text("7 chosen")).to_be_visible()
    assert_sound(page)
    page.get_by_label("Activity", exact=True).last.select_option(label="ride")
    page.get_by_role("button", name="Set activity").click()
    expect(page.get_by_text("7 workouts set to ride.")).to_be_visible()
    assert Part.objects.of(ana).filter(activity__slug="ride").count() == 7


def test_shift_chooses_all_between_two_and_a_renewed_list_keeps_them(page, live_server, ana):
    days_of_runs(ana, 6)
    sign_in(page, live_server)
    page.get_by_text("Change several workouts").click()
    boxes = page.locator(".lines input.pick")
    boxes.nth(1).click()
    boxes.nth(4).click(modifiers=["Shift"])
    expect(page.get_by_text("4 chosen")).to_be_visible()
    boxes.nth(2).focus()
    page.keyboard.press("Space")
    expect(page.get_by_text("3 chosen")).to_be_visible()
    page.evaluate("htmx.trigger(document.body, 'log-changed')")
    page.wait_for_load_state("networkidle")
    expect(page.locator(".lines input.pick:checked")).to_have_count(3)


def test_what_is_deleted_is_had_back_by_the_button_in_the_message(page, live_server, ana):
    days_of_runs(ana, 3)
    before = {row.part.start: bytes(row.all_draws) for row in LoadEstimate.objects.select_related("part")}
    sign_in(page, live_server)
    page.get_by_text("Change several workouts").click()
    for box in page.locator(".lines input.pick").all()[:2]:
        box.check()
    page.get_by_role("button", name="Delete the chosen").click()
    expect(page.locator(".lines li")).to_have_count(1)
    assert_sound(page)
    page.get_by_role("button", name="Undo").click()
    expect(page.get_by_text("Put back: 2 workouts of 3 March 2026 to 4 March 2026.")).to_be_visible()
    assert Workout.objects.of(ana).count() == 3
    work_through_the_queue(ana)
    after = {row.part.start: bytes(row.all_draws) for row in LoadEstimate.objects.select_related("part")}
    assert after == before


def test_deleted_lately_puts_back_and_deletes_for_good(page, live_server, ana):
    days_of_runs(ana, 2)
    sign_in(page, live_server)
    for _ in range(2):
        page.goto(f"{live_server.url}/workouts/{Workout.objects.first().pk}/delete")
        page.get_by_role("button", name="Delete it").click()
    page.get_by_role("link", name="Deleted lately").click()
    assert_sound(page)
    page.get_by_role("button", name="Put back run of 2 March 2026").click()
    expect(page.get_by_text("Put back: run of 2 March 2026.")).to_be_visible()
    page.goto(f"{live_server.url}/deleted")
    page.get_by_role("link", name="Delete for good").click()
    assert_sound(page)
    page.get_by_role("button", name="Delete for good").click()
    expect(page.get_by_text("Nothing was deleted in the last 30 days.")).to_be_visible()
    assert not Deletion.objects.exists()


def test_why_a_load_is_loose_opens_by_pointer_key_and_tap(page, live_server, ana):
    days_of_runs(ana, 2)
    sign_in(page, live_server)
    reason = LoadEstimate.objects.filter(measure="trimp")[0].reason
    mark = page.locator(".lines .bases summary").first
    because = page.locator(".lines .because").first
    expect(because).to_be_hidden()
    mark.focus()
    page.keyboard.press("Enter")
    expect(because).to_contain_text(reason)
    assert_sound(page)
    page.keyboard.press("Escape")
    expect(because).to_be_hidden()
    mark.hover()
    expect(because).to_be_visible()
    page.mouse.move(1, 1)
    expect(because).to_be_hidden()
    mark.click()
    expect(because).to_be_visible()


def test_several_are_changed_and_had_back_without_javascript(browser, live_server, ana):
    days_of_runs(ana, 2)
    context = browser.new_context(java_script_enabled=False, viewport={"width": 390, "height": 900})
    page = context.new_page()
    sign_in(page, live_server)
    page.get_by_text("Change several workouts").click()
    page.get_by_label("Choose run of 2 March").check()
    page.get_by_label("Tags, separated by commas").fill("gym")
    page.get_by_role("button", name="Add tags").click()
    expect(page.get_by_text("1 workout tagged “gym”.")).to_be_visible()
    page.get_by_text("Change several workouts").click()
    page.get_by_label("Choose run of 2 March").check()
    page.get_by_role("button", name="Delete the chosen").click()
    page.get_by_role("button", name="Undo").click()
    expect(page.get_by_text("Put back: run of 2 March 2026.")).to_be_visible()
    assert Workout.objects.of(ana).count() == 2
    context.close()
