"""A session without a file on a phone: how many taps it takes, and what happens to the page meanwhile."""

from __future__ import annotations

from datetime import timedelta

import pytest
from playwright.sync_api import Page, expect

from tests.browser.test_journey import assert_sound, sign_in
from tests.builders import MORNING, part
from trainlog.models import LiftSet, Part

pytestmark = [
    pytest.mark.browser,
    pytest.mark.django_db(transaction=True),
    pytest.mark.parametrize("page", [390], indirect=True),
]

MOST_INTERACTIONS = 6


class Fingers:
    """Taps and typed figures, counted."""

    def __init__(self, page: Page) -> None:
        self.page, self.count = page, 0

    def tap(self, what) -> None:
        """Tap on something that is in sight or can be scrolled to."""
        self.count += 1
        what.click()

    def choose(self, label: str, choice: str) -> None:
        """Open a list of choices and tap one of them."""
        self.count += 2
        self.page.get_by_label(label).select_option(label=choice)


def rate(page: Page, rating: int):
    return page.locator(".eleven label", has_text=str(rating)).first


def test_a_usual_session_is_two_taps(page, live_server, ana):
    part(ana, MORNING, 50, activity="lifting")
    sign_in(page, live_server)
    page.goto(f"{live_server.url}/workouts/new")
    assert_sound(page)
    fingers = Fingers(page)
    fingers.tap(rate(page, 7))
    fingers.tap(page.get_by_role("button", name="Log it"))
    expect(page.get_by_text("Add its sets?")).to_be_visible()
    typed = Part.objects.of(ana).order_by("-start")[0]
    assert (typed.activity.slug, typed.seconds, typed.session_rpe) == ("lifting", 50 * 60, 7)
    assert fingers.count <= MOST_INTERACTIONS
    assert fingers.count == 2


def test_another_activity_of_another_length_is_five_taps(page, live_server, ana):
    part(ana, MORNING, 50, activity="lifting")
    part(ana, MORNING - timedelta(days=1), 40, activity="row")
    sign_in(page, live_server)
    page.goto(f"{live_server.url}/workouts/new")
    fingers = Fingers(page)
    fingers.choose("Activity", "row")
    fingers.tap(page.locator("#length label", has_text="55 min"))
    fingers.tap(rate(page, 4))
    fingers.tap(page.get_by_role("button", name="Log it"))
    expect(page.locator(".lines li").first).to_contain_text("row")
    typed = Part.objects.of(ana).order_by("-start")[0]
    assert (typed.activity.slug, typed.seconds, typed.session_rpe) == ("row", 55 * 60, 4)
    assert fingers.count <= MOST_INTERACTIONS


def test_sets_are_added_and_changed_without_leaving_the_page(page, live_server, ana):
    lifted = part(ana, MORNING, 50, activity="lifting")
    sign_in(page, live_server)
    page.goto(f"{live_server.url}/workouts/{lifted.workout_id}")
    page.evaluate("document.body.dataset.stayed = 'yes'")
    page.get_by_label("Exercise").fill("squat")
    page.get_by_label("Reps").fill("5")
    page.get_by_label("Load, kg").fill("100")
    page.get_by_role("button", name="Add sets").click()
    expect(page.locator(".set-table tbody tr")).to_have_count(1)
    page.get_by_role("button", name="Add another line").click()
    expect(page.locator(".sets .facts")).to_contain_text("1000 kg")
    page.locator(".set-table a").last.click()
    assert_sound(page)
    page.locator(".set-table").get_by_label("Load, kg").fill("60")
    page.get_by_role("button", name="Save", exact=True).click()
    expect(page.locator(".sets .facts")).to_contain_text("800 kg")
    assert page.evaluate("document.body.dataset.stayed") == "yes"
    assert [row.kilograms for row in LiftSet.objects.of(ana)] == [100, 60]
