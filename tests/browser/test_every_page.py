"""Every page of the site, narrow and wide, light and dark, as a person with or without eyes and a mouse.

The pages come from the resolver: a new one is walked by itself.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser

from tests.browser.conftest import PATIENCE, WIDTHS
from tests.browser.learned_log import LearnedLog
from tests.browser.walk import NARROW, Visit, visit

pytestmark = [pytest.mark.browser, pytest.mark.django_db]

BUDGET = 300_000
"""Bytes of a first visit to a page, apart from the chart library."""

CHART_LIBRARY = "vega_embed"

STATES = (
    "?text=run&rated=no",
    "?text=nowhere",
    "trend?span=all",
    "trend?from=2026-02-01&to=2026-01-01",
    "check-in?day=2026-01-05",
    "week/2026-01-05",
    "no-such-page",
)
"""Pages in a state that no address of its own names."""

SIGNED_OUT = ("sign-in",)
NEWCOMER = (
    "",
    "week",
    "trend",
    "check-in",
    "calendar",
    "calendar/years",
    "recovery",
    "sensors/",
    "strap-plan",
)
"""What someone sees who has just opened a log."""


def walked(browser: Browser, learned: LearnedLog, width: int, sizes: dict[str, int]) -> Iterator[Visit]:
    """Visits to every page at one width; the kind of visitor stands before the address."""
    visitors = {
        "demo": [(address, path) for address, path in learned.pages().items() if address not in SIGNED_OUT],
        "nobody": [(address, f"/{address}") for address in SIGNED_OUT],
    }
    if width >= NARROW:
        visitors["demo"] += [(address, f"/{address}") for address in STATES]
    else:
        visitors["newcomer"] = [(address, f"/{address}") for address in NEWCOMER]
    for name, addresses in visitors.items():
        context = browser.new_context()
        context.set_default_timeout(PATIENCE)
        if name != "nobody":
            context.add_cookies(learned.signed_in(name))
        page = context.new_page()
        for address, path in addresses:
            found = visit(page, learned.url + path, address, width, sizes)
            if name == "newcomer":
                found.address = f"{address} of a newcomer"
            yield found
        context.close()


@pytest.fixture(scope="module")
def sizes() -> dict[str, int]:
    """Bytes over the line of whatever was asked for."""
    return {}


@pytest.fixture(scope="module")
def visits(learned, browser, sizes) -> list[Visit]:
    """The whole walk."""
    return [found for width in WIDTHS for found in walked(browser, learned, width, sizes)]


def test_the_walk_reaches_the_pages_there_are(visits):
    expected = {"", "week/<isodate:day>", "workouts/<int:pk>", "sensors/pairs/<int:pk>", "account", "sign-in"}
    assert expected <= {each.address for each in visits}
    assert [
        str(each) for each in visits if each.status not in {200, 422} and each.address != "no-such-page"
    ] == []


def test_no_page_breaks_a_rule_of_wcag(visits):
    assert [f"{each}: {wrong}" for each in visits for wrong in each.violations] == []


def test_no_page_makes_the_browser_complain(visits):
    assert [f"{each}: {wrong}" for each in visits for wrong in each.complaints] == []


def test_no_page_scrolls_sideways(visits):
    assert [
        f"{each}, shown at {width} px, by {by} px"
        for each in visits
        for width, by in each.sideways.items()
        if by > 0
    ] == []


def test_each_page_has_one_heading_of_the_first_level(visits):
    assert [f"{each}: {each.headings}" for each in visits if each.headings != 1] == []


def test_each_page_says_its_language(visits):
    assert {each.language for each in visits} == {"en-GB"}


def test_no_two_pages_have_the_same_title(visits):
    pages_by_title = Counter(each.title for each in visits if each.width == WIDTHS[0] and _ordinary(each))
    assert [title for title, count in pages_by_title.items() if count > 1] == []


def _ordinary(each: Visit) -> bool:
    """Whether a page is not merely another state of one, or the way to it that needs no day."""
    same = {*STATES, "week", "calendar", "files/progress"}
    return each.address not in same and "newcomer" not in each.address


def test_everything_to_press_or_type_in_is_reached_by_keyboard(visits):
    assert [f"{each}: {wrong}" for each in visits for wrong in each.unreachable] == []


def test_the_focus_is_seen(visits):
    assert [f"{each}: {wrong}" for each in visits for wrong in each.unseen_focus] == []


def test_each_chart_is_told_in_figures_to_who_does_not_see_it(visits):
    assert [f"{each}: {chart}" for each in visits for chart in each.untold_charts] == []


def test_every_page_is_under_a_policy_without_inline_code_and_other_hosts(visits):
    loose = [str(each) for each in visits if "default-src 'none'" not in each.policy]
    loose += [str(each) for each in visits if "unsafe" in each.policy or "http" in each.policy]
    assert loose == []


def test_no_page_asks_another_host_for_anything(visits, learned):
    host = learned.url.partition("//")[2]
    assert set().union(*(each.hosts for each in visits)) <= {host, ""}


def test_a_first_visit_to_each_page_is_small(visits, sizes):
    over = {}
    for each in visits:
        total = sum(sizes.get(url, 0) for url in set(each.asked_for) if CHART_LIBRARY not in url)
        if total > BUDGET:
            over[str(each)] = total
    assert over == {}
