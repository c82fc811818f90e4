"""The page of a workout in a browser: its chart zooms to parts, and parts are moved over the chart."""

from __future__ import annotations

from datetime import timedelta

import numpy as np
import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Locator, Page, expect

from accuracy.services.learn import learn
from fixtures import csv_writer
from tests.builders import MORNING, activity_of, imported
from trainlog.models import Athlete, Part, Sensor, Workout
from trainlog.readers.reading import Segment
from trainlog.services.edit_workout import set_activity, split_part
from trainlog.trace import Trace

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

MINUTES = 30


@pytest.fixture
def workout(ana) -> Workout:
    """Half an hour with the wrist alone, cut in two after twelve minutes, and learned from."""
    seconds = np.arange(MINUTES * 60)
    trace = Trace(MORNING, np.round(130 + 25 * np.sin(seconds / 90) + 2 * np.sin(seconds / 7)))
    content = csv_writer.write(trace, "left", [Segment(MORNING, trace.end, "running")])
    recording = imported(ana, content, "left.csv")
    recording.sensor = Sensor.objects.of(ana).get(name="left wrist")
    recording.save()
    whole = Part.objects.of(ana).get()
    set_activity(split_part(whole, MORNING + timedelta(minutes=12)), activity_of(ana, "row"))
    estimated(ana)
    return whole.workout


def estimated(owner: Athlete) -> None:
    while not learn(owner):
        pass


def opened(page: Page, live_server, workout: Workout) -> Locator:
    """Chart of the workout's page, drawn."""
    page.goto(f"{live_server.url}/sign-in")
    page.get_by_label("Username").fill("ana")
    page.get_by_label("Password").fill("a long password")
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_url(f"{live_server.url}/")
    page.goto(f"{live_server.url}/workouts/{workout.pk}")
    chart = page.locator("[data-workout-chart]")
    expect(chart).to_have_attribute("data-drawn", "yes")
    return chart


def shown(page: Page) -> Locator:
    """Words on the minutes that the chart shows."""
    return page.locator("[data-shown]")


def lengths(workout: Workout) -> list[int]:
    return [part.seconds for part in workout.parts.all()]


def test_choosing_a_part_zooms_to_it_and_marks_it_everywhere(page, live_server, workout):
    opened(page, live_server, workout)
    expect(shown(page)).to_have_text("minutes 0.0 to 30.0")
    above = page.locator(".zoom").get_by_role("button", name="Row")
    above.click()
    expect(shown(page)).to_have_text("minutes 12.0 to 30.0")
    expect(above).to_have_attribute("aria-current", "true")
    expect(page.locator("tr[data-chosen]")).to_contain_text("Row")
    page.locator(".parts-table").get_by_role("button", name="Run").click()
    expect(shown(page)).to_have_text("minutes 0.0 to 12.0")
    expect(page.locator("tr[data-chosen]")).to_contain_text("Run")
    page.locator(".zoom").get_by_role("button", name="Whole workout").click()
    expect(shown(page)).to_have_text("minutes 0.0 to 30.0")
    expect(page.locator("tr[data-chosen]")).to_have_count(0)


def test_a_part_is_chosen_by_its_name_in_the_chart_and_a_double_click_shows_the_whole(
    page, live_server, workout
):
    box = opened(page, live_server, workout).locator("canvas").bounding_box()
    page.mouse.click(box["x"] + 0.8 * box["width"], box["y"] + 14)
    expect(shown(page)).to_have_text("minutes 12.0 to 30.0")
    page.mouse.dblclick(box["x"] + 0.5 * box["width"], box["y"] + box["height"] / 2)
    expect(shown(page)).to_have_text("minutes 0.0 to 30.0")


def test_everything_of_the_zoom_works_by_keyboard(page, live_server, workout):
    opened(page, live_server, workout)
    page.locator(".zoom").get_by_role("button", name="Row").focus()
    page.keyboard.press("Space")
    expect(shown(page)).to_have_text("minutes 12.0 to 30.0")
    page.get_by_role("button", name="Zoom in").press("Enter")
    expect(shown(page)).to_have_text("minutes 16.5 to 25.5")
    page.get_by_role("button", name="Earlier").press("Enter")
    expect(shown(page)).to_have_text("minutes 12.0 to 21.0")
    page.get_by_role("button", name="Zoom out").press("Enter")
    expect(shown(page)).to_have_text("minutes 7.5 to 25.5")


def edited(page: Page) -> Locator:
    """Handle of the only boundary, once the parts are being edited."""
    page.get_by_text("Move a boundary, or cut or join parts").click()
    return page.get_by_role("slider", name="Row begins")


def test_a_boundary_is_moved_by_dragging_its_handle(page, live_server, workout):
    chart = opened(page, live_server, workout)
    handle = edited(page)
    expect(handle).to_have_attribute("aria-valuetext", "12:00 minutes")
    handle.scroll_into_view_if_needed()
    box, width = handle.bounding_box(), chart.locator("canvas").bounding_box()["width"]
    page.mouse.move(box["x"] + 14, box["y"] + 60)
    page.mouse.down()
    page.mouse.move(box["x"] + 14 + width / 6, box["y"] + 60, steps=5)
    with page.expect_navigation():
        page.mouse.up()
    expect(page.get_by_text("The boundary is moved to")).to_be_visible()
    earlier, later = lengths(workout)
    assert 15 * 60 < earlier < 20 * 60
    assert earlier + later == MINUTES * 60


def test_a_boundary_is_moved_by_keys_and_escape_leaves_it(page, live_server, workout):
    opened(page, live_server, workout)
    handle = edited(page)
    handle.press("ArrowRight")
    handle.press("Shift+ArrowRight")
    expect(handle).to_have_attribute("aria-valuetext", "13:10 minutes")
    handle.press("Escape")
    expect(handle).to_have_attribute("aria-valuetext", "12:00 minutes")
    handle.press("Shift+ArrowLeft")
    with page.expect_navigation():
        handle.press("Enter")
    expect(page.get_by_text("The boundary is moved to 11:00; it was at 12:00.")).to_be_visible()
    assert lengths(workout) == [11 * 60, 19 * 60]


def test_a_handle_lies_over_the_boundary_also_when_zoomed(page, live_server, workout):
    chart = opened(page, live_server, workout)
    handle = edited(page)
    page.locator(".zoom").get_by_role("button", name="Run").click()
    expect(shown(page)).to_have_text("minutes 0.0 to 12.0")
    page.get_by_role("button", name="Later").click()
    expect(shown(page)).to_have_text("minutes 6.0 to 18.0")
    drawing = chart.locator("canvas").bounding_box()
    expect(handle).to_be_visible()
    middle = handle.bounding_box()["x"] + 14
    # The axis of rates takes about 50 pixels on the left.
    assert middle == pytest.approx(drawing["x"] + (drawing["width"] + 45) / 2, abs=12)


def test_a_cut_is_placed_over_the_chart_and_made_by_its_button(page, live_server, workout):
    opened(page, live_server, workout)
    edited(page)
    cut = page.get_by_role("slider", name="Cut row")
    expect(cut).to_have_attribute("aria-valuetext", "21:00 minutes")
    cut.press("PageUp")
    form = page.locator("form[data-handle=cut]").last
    expect(form.get_by_label("Cut it at")).to_have_value("22:00")
    with page.expect_navigation():
        form.get_by_role("button", name="Cut here").click()
    assert lengths(workout) == [12 * 60, 10 * 60, 8 * 60]


def test_the_page_says_why_and_is_sound(page, live_server, workout):
    opened(page, live_server, workout)
    expect(page.locator(".side-by-side")).to_have_count(2)
    expect(page.get_by_text("What a strap would have given is not known").first).to_be_visible()
    edited(page)
    sideways = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
    assert sideways <= 0
    result = Axe().run(page)
    assert result.violations_count == 0, result.generate_report()


def test_without_a_script_the_links_lead_to_the_parts(browser, live_server, workout):
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(f"{live_server.url}/sign-in")
    page.get_by_label("Username").fill("ana")
    page.get_by_label("Password").fill("a long password")
    page.get_by_role("button", name="Sign in").click()
    page.goto(f"{live_server.url}/workouts/{workout.pk}")
    page.locator(".zoom").get_by_role("link", name="Row").click()
    assert page.url.endswith(f"#part-{workout.parts.last().pk}")
    page.get_by_text("Move a boundary, or cut or join parts").click()
    page.get_by_label("Begins at").fill("14:30")
    page.get_by_role("button", name="Move the boundary").click()
    expect(page.get_by_text("moved to 14:30; it was at 12:00")).to_be_visible()
    context.close()
