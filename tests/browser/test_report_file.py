"""A report as a file, opened from a disk as a reader would."""

import pytest
from axe_playwright_python.sync_playwright import Axe

from accuracy.report.drawings import pictures_of
from accuracy.report.page import page_of
from tests.accuracy.report.documents import document

pytestmark = pytest.mark.browser

WIDTHS = (390, 1280, 1600)


@pytest.fixture(scope="module")
def address(tmp_path_factory):
    path = tmp_path_factory.mktemp("report") / "report.html"
    path.write_bytes(page_of(document(), pictures_of(document())))
    return path.as_uri()


@pytest.fixture(params=WIDTHS)
def opened(browser, address, request):
    """The page, what it asked for, and what it complained of."""
    page = browser.new_page(viewport={"width": request.param, "height": 900})
    asked: list[str] = []
    complaints: list[str] = []
    page.on("request", lambda one: asked.append(one.url))
    page.on("console", lambda message: complaints.append(message.text))
    page.goto(address)
    yield page, asked, complaints
    page.close()


def test_it_asks_for_nothing_beside_itself(opened, address):
    _, asked, complaints = opened
    assert asked == [address]
    assert complaints == []


def test_it_holds_to_the_rules_of_accessibility(opened):
    page, _, _ = opened
    found = Axe().run(page)
    assert [one["id"] for one in found.response["violations"]] == []


def test_it_is_no_wider_than_the_window(opened):
    page, _, _ = opened
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")


def test_a_figure_in_words_opens_by_keyboard(opened):
    page, _, _ = opened
    summary = page.locator("figure summary").first
    summary.focus()
    page.keyboard.press("Enter")
    assert page.locator("figure details p").first.is_visible()
