"""A browser, a page that complains, and whose log it is.

The browser's requests and the test write at once: a file takes that, an in-memory database does not.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.db import connection
from playwright.sync_api import Browser, Page, expect, sync_playwright

from tests.browser.learned_log import LearnedLog, served
from tests.builders import MORNING, athlete, sensor, strap
from trainlog.models import Athlete, Physiology

CHROMIUM = os.environ.get("TRAINLOG_TEST_CHROMIUM", "/usr/bin/chromium")
ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
    # Each window would load pages of the browser's own into processes of their own, for its address bar, and
    # take more of the machine with them than with most of ours. Of several lists the last counts, so what
    # Playwright switches off by itself stands here as well.
    "--disable-features="
    "WebUIOmniboxPopup,WebUIOmniboxAimPopup,WebUIOmniboxFullPopup,"
    "AimEnabled,AvoidCorsURLLoaderRestartOnRedirect,AvoidUnnecessaryBeforeUnloadCheckSync,"
    "DestroyProfileOnBrowserClose,HttpsFirstBalancedModeAutoEnable,HttpsUpgrades,LensOverlay,MediaRouter,"
    "NetworkTimeServiceQuerying,OptimizationHints,PaintHolding,PreconnectToSearch,ThirdPartyStoragePartitioning",
]
WIDTHS = (1280, 390)
PATIENCE = 10_000
"""Milliseconds that the browser waits for what is expected."""


@pytest.fixture(scope="session")
def browser(django_db_setup) -> Iterator[Browser]:
    # Playwright's event loop would make Django refuse the ORM in this thread, and open another connection to
    # the database than one made before it: so the database is set up first.
    os.environ.setdefault("DJANGO_ALLOW_ASYNC_UNSAFE", "true")
    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
        yield chromium
        chromium.close()


@pytest.fixture(params=WIDTHS)
def page(request, browser, live_server) -> Iterator[Page]:
    """Page that complains of console errors, refused policy and failed requests; closed before the log is."""
    context = browser.new_context(viewport={"width": request.param, "height": 900})
    opened, complaints = context.new_page(), []
    opened.set_default_timeout(PATIENCE)
    expect.set_options(timeout=PATIENCE)
    opened.on(
        "console", lambda said: complaints.append(said.text) if said.type in ("error", "warning") else None
    )
    opened.on("pageerror", lambda error: complaints.append(str(error)))
    opened.on(
        "response", lambda got: complaints.append(f"{got.status} {got.url}") if got.status >= 500 else None
    )
    opened.complaints = complaints
    yield opened
    context.close()
    assert complaints == []


@pytest.fixture
def ana() -> Athlete:
    owner = athlete("ana")
    Physiology.objects.create(
        owner=owner, from_day=MORNING.date(), resting_rate=50, maximum_rate=190, maximum_error=3
    )
    strap(owner, "belt", source_key="")
    sensor(owner, "left wrist", source_key="")
    return owner


@pytest.fixture(scope="session")
def kept_log(tmp_path_factory) -> Path:
    """Where the learned log is kept, once it is made."""
    return tmp_path_factory.mktemp("learned") / "log.sqlite3"


@pytest.fixture(scope="module")
def learned(browser, django_db_blocker, kept_log) -> Iterator[LearnedLog]:
    """A log with everything in it, which the tests of a module may read; none of them may change it."""
    with django_db_blocker.unblock(), served(kept_log) as log:
        yield log


@pytest.fixture(scope="session")
def django_db_modify_db_settings(tmp_path_factory):
    if connection.vendor == "sqlite":
        connection.settings_dict["TEST"]["NAME"] = str(tmp_path_factory.mktemp("database") / "test.sqlite3")
        # What a crash of the machine would lose is lost anyway.
        connection.settings_dict["OPTIONS"]["init_command"] += "PRAGMA synchronous=OFF;"
