"""Pages in other ways: without JavaScript, on paper, in a system's own colours, at rest."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import PATIENCE
from tests.browser.test_every_page import SIGNED_OUT

pytestmark = [pytest.mark.browser, pytest.mark.django_db]

LEAST_WORDS = 5
"""Words that a page says at the least, its navigation left out."""


@pytest.fixture
def plain(learned, browser) -> Iterator[Page]:
    """A page of the learned log in a browser that runs no scripts."""
    context = browser.new_context(java_script_enabled=False, viewport={"width": 390, "height": 900})
    context.set_default_timeout(PATIENCE)
    context.add_cookies(learned.signed_in())
    yield context.new_page()
    context.close()


@pytest.fixture
def page(learned, browser) -> Iterator[Page]:
    """A page of the learned log in a wide window."""
    context = browser.new_context(viewport={"width": 1280, "height": 900})
    context.set_default_timeout(PATIENCE)
    context.add_cookies(learned.signed_in())
    yield context.new_page()
    context.close()


def week_of(learned) -> str:
    return f"{learned.url}{learned.path('week/<isodate:day>')}"


def test_every_page_is_read_without_javascript(plain, learned):
    silent = []
    for address, path in learned.pages().items():
        if address in SIGNED_OUT:
            continue
        answer = plain.goto(learned.url + path)
        assert answer is not None
        assert answer.url == learned.url + path
        main = plain.locator("main").inner_text()
        untold = [
            each
            for each in plain.locator("figure.chart").all()
            if not any(letter.isdigit() for letter in each.locator(".told").inner_text())
        ]
        if len(main.split()) < LEAST_WORDS or untold or not plain.locator("h1").inner_text():
            silent.append(address)
    assert silent == []


def test_no_room_is_kept_for_a_drawing_that_will_not_come(plain, learned):
    plain.goto(f"{learned.url}/trend")
    for place in plain.locator("[data-chart-place]").all():
        expect(place).to_be_hidden()
    plain.locator("#drawn-figures summary").click()
    expect(plain.locator("#drawn-figures tbody tr").first).to_contain_text("–")


def test_paper_says_why_and_has_nothing_to_press(page, learned):
    page.goto(week_of(learned))
    reason = page.locator("details.flag p").first
    expect(reason).to_be_hidden()
    page.emulate_media(media="print", color_scheme="dark")
    expect(reason).to_be_visible()
    for pressed in ("nav", "button", "summary:not(.flag summary)"):
        assert page.locator(pressed).locator("visible=true").count() == 0, pressed
    ink = "getComputedStyle(document.body)"
    assert page.evaluate(f"[{ink}.color, {ink}.backgroundColor]") == ["rgb(0, 0, 0)", "rgb(255, 255, 255)"]


def test_a_week_and_a_workout_fit_on_a_sheet_s_width(page, learned):
    a4_less_margins = 680
    for address in ("week/<isodate:day>", "workouts/<int:pk>"):
        page.set_viewport_size({"width": a4_less_margins, "height": 1000})
        page.emulate_media(media="print")
        page.goto(learned.url + learned.path(address))
        assert page.evaluate("document.documentElement.scrollWidth") <= a4_less_margins


def test_a_chosen_mark_is_seen_in_a_systems_own_colours(page, learned):
    page.emulate_media(forced_colors="active")
    page.goto(f"{learned.url}/check-in?day=2026-01-05")
    marks = page.get_by_role("group", name="How tired are you?")
    marks.get_by_role("radio", name="3", exact=True).check(force=True)
    ground = "(span) => getComputedStyle(span).backgroundColor"
    chosen = marks.locator("input:checked + span").evaluate(ground)
    assert chosen != marks.locator("input:not(:checked) + span").first.evaluate(ground)


def test_charts_are_drawn_in_a_systems_own_colours(page, learned):
    page.emulate_media(forced_colors="active")
    page.goto(f"{learned.url}/trend")
    for chart in page.locator("[data-chart]").all():
        expect(chart).to_have_attribute("data-drawn", "yes")


def test_nothing_moves_where_less_motion_is_asked_for(page, learned):
    page.emulate_media(reduced_motion="reduce")
    page.goto(learned.url)
    moving = page.evaluate("""
        [...document.querySelectorAll('*')].filter((each) => {
          const style = getComputedStyle(each);
          return style.transitionDuration !== '0s' || style.animationName !== 'none';
        }).length
    """)
    assert moving == 0


def test_the_first_stop_of_the_keyboard_leads_past_the_navigation(page, learned):
    page.goto(f"{learned.url}/week")
    page.keyboard.press("Tab")
    expect(page.locator(":focus")).to_have_text("Skip to the content")
    expect(page.locator(":focus")).to_be_in_viewport()
    page.keyboard.press("Enter")
    expect(page.locator("main")).to_be_focused()
    page.keyboard.press("Tab")
    assert page.locator("main :focus").count() == 1


def test_why_is_told_by_keyboard_and_by_pointing(page, learned):
    page.goto(week_of(learned))
    why = page.locator("details.flag summary").first
    reason = page.locator("details.flag p").first.text_content()
    assert why.get_attribute("title") == reason
    why.focus()
    page.keyboard.press("Enter")
    expect(page.locator("details.flag p").first).to_be_visible()
