"""Time until the chart of a three-hour workout can be used, in a real browser on a real server.

A workout of two parts of an hour and a half: a strap and two wrist sensors in the first, the two wrist
sensors in the second, so that the chart has three traces, flagged stretches and a likely-true band. The clock
runs from the start of the navigation to the chart's being drawn and answering the pointer; chart library and
styles lie in the browser's cache, as on every visit but the first. Where other work shares the machine, the
processor time of the browser's page says more than the clock.

.venv/bin/python -m benchmarks.workout_page
"""

from __future__ import annotations

import os
import statistics
from datetime import UTC, datetime, timedelta
from typing import Any

from benchmarks.own_log import own_log
from benchmarks.web_server import web_server

import benchmarks.one_thread  # noqa: F401  isort: skip
import numpy as np

from trainlog.trace import FloatArray, Trace

ADDRESS = "127.0.0.1:8765"
CHROMIUM = os.environ.get("TRAINLOG_TEST_CHROMIUM", "/usr/bin/chromium")
BEGUN = datetime(2026, 3, 1, 8, 0, tzinfo=UTC)
HALF = 90 * 60
BAR = 500
"""Milliseconds that the chart may take."""

WARM, TIMES = 3, 11
"""Loads that fill the browser's caches, and loads that are measured."""

WATCH = """
new MutationObserver((changes) => {
  for (const { target } of changes) if (target.dataset?.drawn) window.drawnAfter ??= performance.now();
}).observe(document, { attributes: true, attributeFilter: ["data-drawn"], subtree: true });
"""
MEASURED = """() => {
  const of = (entry) => entry.responseEnd - entry.requestStart;
  const chart = performance.getEntriesByType("resource").find((one) => one.name.endsWith("chart.json"));
  const page = performance.getEntriesByType("navigation")[0];
  return { drawn: window.drawnAfter, page: of(page), chart: of(chart), ready: page.domInteractive,
           bytes: chart.encodedBodySize };
}"""


def heart(seconds: int) -> FloatArray:
    """Three hours of uneven work, in bpm."""
    at = np.arange(seconds)
    noise = np.random.default_rng(3).normal(0, 1.5, seconds)
    return 138 + 22 * np.sin(at / 260) + 8 * np.sin(at / 41) + noise


def workout_of_three_hours() -> Any:
    """Workout with three recordings, learned from."""
    from django.contrib.auth.models import User  # noqa: PLC0415

    from accuracy.services.learn import learn  # noqa: PLC0415
    from trainlog import trace_blob  # noqa: PLC0415
    from trainlog.models import Activity, Part, Physiology, Recording, Sensor, Workout  # noqa: PLC0415
    from trainlog.services.athletes import open_log  # noqa: PLC0415

    athlete = open_log(User.objects.create_user("bench", password="a long password"), seed=11)
    Physiology.objects.create(owner=athlete, from_day=BEGUN.date(), resting_rate=50, maximum_rate=188)
    middle, ends = BEGUN + timedelta(seconds=HALF), BEGUN + timedelta(seconds=2 * HALF)
    workout = Workout.objects.create(owner=athlete, start=BEGUN, end=ends, day=BEGUN.date())
    for slug, start, end in (("ride", BEGUN, middle), ("run", middle, ends)):
        activity = Activity.objects.of(athlete).get(slug=slug)
        Part.objects.create(owner=athlete, workout=workout, start=start, end=end, activity=activity)
    true = heart(2 * HALF)
    worn = (("strap", "chest", "electrical", true[:HALF]), ("left", "wrist", "optical", 0.93 * true))
    for name, site, principle, trace in (*worn, ("right", "wrist", "optical", 0.96 * true + 2)):
        holed = np.round(trace)
        holed[1000:1200] = np.nan
        Recording.objects.create(
            owner=athlete,
            sha256=f"{name}-three-hours",
            file_name=f"{name}.fit",
            byte_count=1,
            state=Recording.State.READ,
            start=BEGUN,
            end=BEGUN + timedelta(seconds=len(trace)),
            sensor=Sensor.objects.create(owner=athlete, name=name, site=site, principle=principle),
            workout=workout,
            trace_blob=trace_blob.pack(Trace(BEGUN, holed)),
        )
    while not learn(athlete, seconds=600):
        pass
    return workout


def worked(machine: Any) -> float:
    """Processor time of the browser's page so far, in ms: it says what waiting for others hides."""
    processes = machine.send("SystemInfo.getProcessInfo")["processInfo"]
    return 1000 * sum(one["cpuTime"] for one in processes if one["type"] == "renderer")


def loads(workout: int, session: str) -> list[dict[str, float]]:
    """What the browser measured of each load of the workout's page."""
    from playwright.sync_api import sync_playwright  # noqa: PLC0415

    found = []
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox", "--disable-gpu"])
        context = browser.new_context(viewport={"width": 1280, "height": 900})
        context.add_cookies([{"name": "sessionid", "value": session, "url": f"http://{ADDRESS}"}])
        page, machine = context.new_page(), browser.new_browser_cdp_session()
        page.add_init_script(WATCH)
        for _ in range(WARM + TIMES):
            page.goto(f"http://{ADDRESS}/sign-in")
            before = worked(machine)
            page.goto(f"http://{ADDRESS}/workouts/{workout}")
            page.wait_for_selector("[data-drawn]", state="attached")
            found.append(page.evaluate(MEASURED) | {"worked": worked(machine) - before})
        browser.close()
    return found[WARM:]


def main() -> None:
    """Print the median of several loads beside the bar."""
    with own_log():
        from django.core.management import call_command  # noqa: PLC0415
        from django.db import connection  # noqa: PLC0415
        from django.test import Client  # noqa: PLC0415

        call_command("collectstatic", "--no-input", verbosity=0)
        workout, client = workout_of_three_hours(), Client()
        client.force_login(workout.owner.user)
        session = client.cookies["sessionid"].value
        connection.close()
        with web_server(ADDRESS, os.environ):
            found = loads(workout.pk, session)
        print(f"Workout of 3 h with three recordings; median of {TIMES} loads, in ms (from – to)")
        named = {
            "page": "page answered in",
            "chart": "chart's data answered in",
            "ready": "page read after",
            "worked": "browser's processor time",
            "drawn": "chart drawn after",
        }
        for name, words in named.items():
            values = sorted(one[name] for one in found)
            print(f"{words:<26}{statistics.median(values):>7.0f}   ({values[0]:.0f} – {values[-1]:.0f})")
        print(f"{'chart, kB transferred':<26}{found[0]['bytes'] / 1000:>7.0f}")
        print(f"Wanted: chart drawn after {BAR} ms at most, on a machine with nothing else to do.")


if __name__ == "__main__":
    main()
