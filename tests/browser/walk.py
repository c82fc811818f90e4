"""One visit to one page, and everything about it that any page has to keep to."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from urllib.parse import urlsplit

from axe_playwright_python.base import AXE_SCRIPT
from playwright.sync_api import ConsoleMessage, Error, Page, Response, TimeoutError

RULES = ("wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice")
AXE: dict[str, object] = {"resultTypes": ["violations"], "runOnly": {"type": "tag", "values": RULES}}
CONTRAST = AXE | {"runOnly": {"type": "rule", "values": ["color-contrast"]}}

REFLOW = 320
"""Pixels at which WCAG 2.1, 1.4.10, asks for no sideways scrolling."""
WIDE = 1600
NARROW = 640
"""Pixels below which pages are laid out for a phone."""
STOPS = 12
"""Presses of the Tab key whose focus is looked at."""

MOMENT = 1000
"""Milliseconds that a chart may take to be drawn in another width."""

SIDEWAYS = "document.documentElement.scrollWidth - document.documentElement.clientWidth"

COMPLETE = """
() => [...document.querySelectorAll('[hx-trigger~=load]')].every(
  (each) => !each.querySelector(`:scope > a[href="${each.getAttribute('hx-get')}"]`),
) && [...document.querySelectorAll('[data-chart]')].every((each) => each.dataset.drawn)
"""
"""Nothing is still to be fetched in place of the link to it, and every chart is drawn."""

UNTOLD_CHARTS = """
() => [...document.querySelectorAll('[data-chart]')].filter((figure) => {
  const told = figure.querySelector('[aria-label]')?.getAttribute('aria-label') ?? '';
  const named = figure.getAttribute('aria-details');
  const table = named ? document.getElementById(named)?.textContent ?? '' : '0';
  return !/[0-9]/.test(told) || !/[0-9]/.test(table);
}).map((figure) => figure.dataset.chart)
"""
"""Charts whose facts are not said to a screen reader, in figures, where the drawing is."""

UNREACHABLE = """
() => [...document.querySelectorAll('a[href], button, input, select, textarea, summary')]
  .filter((each) => each.checkVisibility() && !each.disabled && each.type !== 'hidden' && each.tabIndex < 0)
  .map((each) => each.outerHTML.slice(0, 120))
"""

UNSEEN_FOCUS = """
() => {
  const focused = document.activeElement;
  if (focused === document.body) return null;
  const drawn = [focused, focused.nextElementSibling].filter(Boolean).some((each) => {
    const style = getComputedStyle(each);
    return style.outlineStyle !== 'none' && parseFloat(style.outlineWidth) >= 2;
  });
  return drawn ? null : focused.outerHTML.slice(0, 120);
}
"""


@dataclass
class Visit:
    """What a visit found."""

    address: str
    width: int
    status: int = 0
    title: str = ""
    headings: int = 0
    language: str | None = None
    policy: str = ""
    violations: list[str] = field(default_factory=list)
    complaints: list[str] = field(default_factory=list)
    sideways: dict[int, int] = field(default_factory=dict)
    untold_charts: list[str] = field(default_factory=list)
    unreachable: list[str] = field(default_factory=list)
    unseen_focus: list[str] = field(default_factory=list)
    asked_for: list[str] = field(default_factory=list)
    hosts: set[str] = field(default_factory=set)

    def __str__(self) -> str:
        return f"/{self.address.lstrip('/')} at {self.width} px"


def visit(page: Page, url: str, address: str, width: int, sizes: dict[str, int]) -> Visit:
    """Look at a page as a person would: light and dark, narrow and wide, by keyboard.

    ``page`` may have been at other addresses before. ``sizes`` takes up the bytes that came over the line for
    each address asked for.
    """
    found = Visit(address, width)
    answers: list[Response] = []
    with _overheard(page, found, answers):
        page.emulate_media(color_scheme="light")
        page.set_viewport_size({"width": width, "height": 900})
        answer = page.goto(url)
        assert answer is not None
        found.status = answer.status
        found.policy = answer.headers.get("content-security-policy", "")
        page.wait_for_function(COMPLETE)
        found.title, found.headings = page.title(), page.locator("h1").count()
        found.language = page.locator("html").get_attribute("lang")
        found.untold_charts = page.evaluate(UNTOLD_CHARTS)
        found.unreachable = page.evaluate(UNREACHABLE)
        page.evaluate(AXE_SCRIPT)
        found.violations = _violations(page, AXE)
        if width >= NARROW:
            _tab_through(page, found)
            page.emulate_media(color_scheme="dark")
            found.violations += [f"dark: {each}" for each in _violations(page, CONTRAST)]
        for other in (width, WIDE if width >= NARROW else REFLOW):
            page.set_viewport_size({"width": other, "height": 900})
            with suppress(TimeoutError):  # a chart takes a moment to follow
                page.wait_for_function(f"() => {SIDEWAYS} <= 0", timeout=MOMENT)
            found.sideways[other] = page.evaluate(SIDEWAYS)
    for each in answers:
        found.asked_for.append(each.url)
        found.hosts.add(urlsplit(each.url).netloc)
        # A static file is named by its content: what was measured once is not asked for again.
        measured = "/static/" in each.url and sizes.get(each.url, 0) > 0
        if each.url.startswith("http") and not measured and not each.request.redirected_to:
            sizes[each.url] = max(sizes.get(each.url, 0), each.request.sizes()["responseBodySize"])
    return found


@contextmanager
def _overheard(page: Page, found: Visit, answers: list[Response]) -> Iterator[None]:
    """Take up what the page says and is answered, for as long as it is visited."""

    def said(message: ConsoleMessage) -> None:
        _note(found, message.type, message.text)

    def broke(error: Error) -> None:
        found.complaints.append(str(error))

    def answered(response: Response) -> None:
        answers.append(response)

    page.on("console", said)
    page.on("pageerror", broke)
    page.on("response", answered)
    try:
        yield
    finally:
        page.remove_listener("console", said)
        page.remove_listener("pageerror", broke)
        page.remove_listener("response", answered)


def _note(found: Visit, kind: str, text: str) -> None:
    # The browser's own word on the answer of a page that is meant to be refused is no complaint of the page.
    if kind in {"error", "warning"} and "the server responded with a status of 4" not in text:
        found.complaints.append(text)


def _violations(page: Page, options: dict[str, object]) -> list[str]:
    result = page.evaluate("options => axe.run(options)", options)
    return [f"{each['id']}: {node['html'][:160]}" for each in result["violations"] for node in each["nodes"]]


def _tab_through(page: Page, found: Visit) -> None:
    page.evaluate("document.activeElement?.blur()")
    for _ in range(STOPS):
        page.keyboard.press("Tab")
        unseen = page.evaluate(UNSEEN_FOCUS)
        if unseen:
            found.unseen_focus.append(unseen)
