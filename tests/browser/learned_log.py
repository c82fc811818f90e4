"""A log with everything in it, served as an installation serves it, for tests that read and change nothing.

It is made once, kept beside the database of the tests, and put back for each file of tests that asks for it.
"""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path
from unittest.mock import patch

import pytest
from django.conf import settings
from django.core.exceptions import ObjectDoesNotExist
from django.core.management import call_command
from django.db import connection
from django.test import Client, override_settings
from django.test.testcases import LiveServerThread
from playwright._impl._api_structures import SetCookieParam

from accuracy.models import Pair
from accuracy.services.learn import learn
from accuracy.services.reports import ask_for_report
from tests.builders import athlete
from tests.full_log import DAYS, MONTHS, ROWS
from tests.test_ownership import ADDRESSES, PARAMETER
from trainlog import models as log
from trainlog.services.delete_workouts import delete_recording
from trainlog.services.tokens import make_token

WEEKS = 6
"""Weeks of the demo scenario: every activity, both straps, both wrists, notes and plans."""

NO_PAGE = {
    # Answers of an address that is no page to look at, and why.
    "health": "JSON for whoever watches the server",
    "^ready$": "JSON for who sends requests to the server",
    "^metrics$": "figures for whoever watches the server",
    "plan.ics": "a calendar file",
    r"\.(csv|parquet|json|ics|zip|pdf|html)$": "a file to take along",
    "/original$": "the bytes of a file",
    "^account/take/whole$": "everything in one file",
    "^sensors/first-pair$": "leads on to the first pair",
    "^demo/progress$": "a fragment of the page that asks for it",
    "^api/": "operations for programs, whose own page needs scripts from elsewhere",
    "^sign-in/code$": "is seen between password and code alone; test_second_step.py walks it",
    "^sign-out$": "is sent by a button",
}


@dataclass(frozen=True)
class LearnedLog:
    """Where it is served, and whose it is."""

    url: str
    owner: log.Athlete
    sessions: dict[str, str]

    def signed_in(self, name: str = "demo") -> list[SetCookieParam]:
        """Cookies of a browser in which its owner, or the newcomer, has signed in."""
        return [{"name": settings.SESSION_COOKIE_NAME, "value": self.sessions[name], "url": self.url}]

    def pages(self) -> dict[str, str]:
        """Path of each address that the resolver knows and that shows a page; a button's address does not."""
        browser = Client()
        browser.force_login(self.owner.user)
        paths = {
            address: self.path(address)
            for address in ADDRESSES
            if not any(re.search(each, address) for each in NO_PAGE)
        }
        # An answer to OPTIONS names the methods that the address takes, without doing anything.
        allowed = {address: browser.options(path).get("Allow", "GET") for address, path in paths.items()}
        return {address: path for address, path in paths.items() if "GET" in allowed[address]}

    def path(self, address: str) -> str:
        """Path of an address, each parameter filled with the row of it that shows most."""
        return "/" + PARAMETER.sub(
            lambda match: f"{match['segment']}/{self._value(match['segment'])}", address
        )

    def _value(self, segment: str) -> object:
        shown = self.pair().part
        if segment == "check-in":
            return log.CheckIn.objects.of(self.owner).latest("day").day.isoformat()
        if segment in DAYS:
            return shown.workout.day.isoformat()
        if segment in MONTHS:
            return f"{shown.workout.day:%Y-%m}"
        rows = {
            "workouts": shown.workout_id,
            "parts": shown.pk,
            "pairs": self.pair().pk,
            "sensors": self.pair().tested.sensor_id,
            "activities": shown.activity_id,
            "sign-ins": log.SignIn.objects.of(self.owner).latest("began_at").pk,
            "tokens": log.ApiToken.objects.of(self.owner).latest("created_at").pk,
        }
        if segment in rows:
            return rows[segment]
        try:
            return ROWS[segment](self.owner).pk  # type: ignore[union-attr]
        except (ObjectDoesNotExist, AttributeError):
            pytest.fail(
                f"The learned log has no row for “{segment}”: make one in tests/browser/learned_log.py"
            )

    def pair(self) -> Pair:
        """A pair of a workout with more than one part, where one is as good as another."""
        return Pair.objects.of(self.owner).filter(usable=True).order_by("-part__start")[0]


@contextmanager
def served(snapshot: Path) -> Iterator[LearnedLog]:
    """Put the log into the database of the tests, serve it, and leave the database empty."""
    if snapshot.exists():
        _put_back(snapshot)
    else:
        _make()
        connection.cursor().execute("VACUUM INTO %s", [str(snapshot)])
    owner = log.Athlete.objects.get(user__username="demo")
    storages = settings.STORAGES | {
        "staticfiles": {"BACKEND": "whitenoise.storage.CompressedManifestStaticFilesStorage"}
    }
    # A test that reads holds a transaction, which keeps the server from writing: what it notes once a minute,
    # that a session was seen, would wait for the end of a test that waits for the page.
    not_again = patch("trainlog.services.sign_ins.SEEN_AT_MOST_EVERY", timedelta(days=1))
    with not_again, override_settings(STORAGES=storages, STATIC_ROOT=snapshot.with_suffix(".static")):
        if not Path(settings.STATIC_ROOT).exists():
            call_command("collectstatic", interactive=False, verbosity=0)
        # No handler of static files before the site's own: compressed and named by hash, as installed.
        server = LiveServerThread("localhost", static_handler=lambda site: site)  # type: ignore[arg-type]
        server.daemon = True
        server.start()
        server.is_ready.wait()
        try:
            yield LearnedLog(f"http://{server.host}:{server.port}", owner, _sessions())
        finally:
            server.terminate()
            call_command("flush", interactive=False, verbosity=0, inhibit_post_migrate=True)


def _make() -> None:
    call_command("load_demo", password="a long password", weeks=WEEKS, verbosity=0)
    owner = log.Athlete.objects.get(user__username="demo")
    while not learn(owner):
        pass
    athlete("newcomer")
    log.UnknownDay.objects.get_or_create(owner=owner, day=owner.today() - timedelta(days=2))
    make_token(owner, "Weekly table", log.ApiToken.Scope.READ.value, 90)
    delete_recording(log.Recording.objects.of(owner).order_by("start")[0])
    while not learn(owner):
        pass
    tested = log.Sensor.objects.of(owner).filter(site=log.Sensor.Site.WRIST)
    ask_for_report(owner, list(tested), anonymised=True)


def _sessions() -> dict[str, str]:
    """Key of a session of each user; made here, since a test's own rows are seen by no server."""
    keys = {}
    for each in log.Athlete.objects.select_related("user"):
        browser = Client()
        browser.force_login(each.user)
        keys[each.user.get_username()] = browser.cookies[settings.SESSION_COOKIE_NAME].value
    return keys


def _put_back(snapshot: Path) -> None:
    connection.ensure_connection()
    kept = sqlite3.connect(snapshot)
    kept.backup(connection.connection)
    kept.close()
