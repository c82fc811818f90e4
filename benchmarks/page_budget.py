"""Bytes of a first visit to each page, as they come over the line, in a log of its own in a temporary folder.

.venv/bin/python -m benchmarks.page_budget

The page itself and what it names: styles, scripts and what they import, and the parts that are fetched when
it is open. The chart library stands apart: it is one file, which the browser keeps. Ends with 1 if a page is
over its budget.
"""

from __future__ import annotations

import gzip
import re
import sys
from collections.abc import Iterator
from typing import TYPE_CHECKING

from benchmarks.own_log import own_log

if TYPE_CHECKING:
    from django.test import Client

BUDGET = 300_000
"""Bytes, apart from the chart library."""

WEEKS = 6
CHART_LIBRARY = "vega_embed"
NAMED = re.compile(r'(?:<link[^>]* href|<script[^>]* src|hx-get)="([^"#]+)"')
IMPORTED = re.compile(r'^import[^"\']*["\']([^"\']+)["\']', re.M)

PAGES = (
    *("/", "/week", "/week/{day}", "/trend", "/trend?span=all", "/check-in", "/recovery", "/calendar"),
    *(
        "/calendar/years",
        "/workouts/new",
        "/workouts/{workout}",
        "/sensors/",
        "/sensors/{sensor}",
        "/strap-plan",
    ),
    *("/sensors/{sensor}/activities/{activity}", "/sensors/pairs/{pair}", "/method", "/account", "/sign-in"),
)


def open_demo() -> tuple[Client, dict[str, object]]:
    """A browser in which the owner of a learned demo log has signed in, and rows of it by name."""
    from django.core.management import call_command  # noqa: PLC0415
    from django.test import Client  # noqa: PLC0415

    from accuracy.models import Pair  # noqa: PLC0415
    from accuracy.services.learn import learn  # noqa: PLC0415
    from trainlog.models import Athlete  # noqa: PLC0415

    call_command("collectstatic", interactive=False, verbosity=0)
    call_command("load_demo", password="only-for-this-run", weeks=WEEKS)
    owner = Athlete.objects.get()
    while not learn(owner):
        pass
    pair = Pair.objects.of(owner).filter(usable=True).order_by("-part__start")[0]
    browser = Client(headers={"accept-encoding": "gzip", "host": "127.0.0.1"})
    browser.force_login(owner.user)
    rows: dict[str, object] = {
        "day": pair.part.workout.day,
        "workout": pair.part.workout_id,
        "sensor": pair.tested.sensor_id,
        "activity": pair.part.activity_id,
        "pair": pair.pk,
    }
    return browser, rows


def fetched(browser: Client, address: str, seen: set[str]) -> Iterator[tuple[str, int]]:
    """Each thing that comes with an address, with its bytes, the address first."""
    if address in seen:
        return
    seen.add(address)
    answer = browser.get(address)
    content = answer.getvalue()
    yield address, len(content)
    kind = answer.headers.get("Content-Type", "")
    if answer.headers.get("Content-Encoding") == "gzip":
        content = gzip.decompress(content)
    if kind.startswith("text/html"):
        for named in NAMED.findall(content.decode()):
            yield from fetched(browser, named.replace("&amp;", "&"), seen)
    elif "javascript" in kind and CHART_LIBRARY not in address:
        for named in IMPORTED.findall(content.decode()):
            yield from fetched(browser, f"{address.rpartition('/')[0]}/{named.removeprefix('./')}", seen)


def main() -> int:
    """Print the table; 1 if a page is over its budget."""
    over = 0
    with own_log():
        browser, rows = open_demo()
        print(f"{'page':44} {'itself':>9} {'parts':>9} {'styles, scripts':>16} {'all':>9}  charts beside")
        for page in PAGES:
            came = list(fetched(browser, page.format(**rows), set()))
            charts = sum(size for name, size in came if CHART_LIBRARY in name)
            static = sum(size for name, size in came if name.startswith("/static/")) - charts
            itself = came[0][1]
            whole = sum(size for _, size in came) - charts
            over += whole > BUDGET
            print(f"{page:44} {itself:9,} {whole - itself - static:9,} {static:16,} {whole:9,}  {charts:,}")
    print(f"Budget {BUDGET:,} bytes: {over or 'no'} page{'s' if over > 1 else ''} over it.")
    return int(over > 0)


if __name__ == "__main__":
    sys.exit(main())
