"""Fill a log with the demo scenario, through the same functions that an upload and a worker use."""

from __future__ import annotations

from argparse import ArgumentParser
from datetime import date, timedelta
from typing import Any

from django.contrib.auth import get_user_model
from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from fixtures.demo.scenario import Scenario, scenario
from fixtures.demo.workouts import WEEKS
from trainlog.models import Athlete, Workout
from trainlog.services.athletes import open_log
from trainlog.services.demo_notes import NotThisDemo
from trainlog.services.demo_scenario import load_scenario

PROGRESS_EVERY = 10
"""Files between two lines of progress."""


class Command(BaseCommand):
    """``manage.py load_demo --password PW``."""

    help = "Fill a log with the invented demo scenario. Broken off half way, it goes on where it stopped."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Say what the command takes."""
        parser.add_argument(
            "--password", required=True, help="password of the demo's user, if it is made now"
        )
        parser.add_argument("--user", default="demo", help="user whose log is filled (demo)")
        parser.add_argument("--last-day", type=date.fromisoformat, help="YYYY-MM-DD (yesterday)")
        parser.add_argument("--weeks", type=int, default=WEEKS, help=f"how many of the last weeks ({WEEKS})")

    def handle(self, *, password: str, user: str, last_day: date | None, weeks: int, **_: Any) -> None:
        """Invent the scenario and put it into the log."""
        last_day = last_day or timezone.now().date() - timedelta(days=1)
        try:
            demo = scenario(last_day, weeks)
        except ValueError as error:
            raise CommandError(str(error)) from error
        athlete = _log(user, password, demo)
        try:
            for number in load_scenario(athlete, demo):
                if number % PROGRESS_EVERY == 0 or number == len(demo.files):
                    self.stdout.write(f"Reading {number} of {len(demo.files)} files")
                    self.stdout.flush()
        except NotThisDemo as others:
            raise CommandError(
                f"{others} that are not of this demo, so nothing was loaded. Choose another user with "
                "--user, or the --last-day of a demo that was begun before."
            ) from others
        except ValueError as error:
            raise CommandError(str(error)) from error
        workouts = Workout.objects.of(athlete).count()
        self.stdout.write(f"The log of {user} holds {workouts} invented workouts up to {last_day}.")


def _log(user_name: str, password: str, demo: Scenario) -> Athlete:
    """Log of the user, made if need be."""
    user = get_user_model()._default_manager.filter(username=user_name).first()
    if user is None:
        user = get_user_model().objects.create_user(username=user_name, password=password)
    return open_log(user, time_zone=demo.athlete.time_zone, seed=demo.athlete.seed)
