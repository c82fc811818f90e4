"""Delete a log with everything in it."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from trainlog.management.people import log_named
from trainlog.services.delete_log import contents_of, delete_log


class Command(BaseCommand):
    """``manage.py delete_log --user NAME``."""

    help = "Delete a user with everything in the log, originals too. It cannot be undone."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Say what the command takes."""
        parser.add_argument("--user", required=True, help="whose log goes")
        parser.add_argument("--yes", action="store_true", help="do not ask for the name once more")

    def handle(self, *, user: str, yes: bool, **_: Any) -> None:
        """Say what goes, ask once, delete, and tell what was counted afterwards."""
        athlete = log_named(user)
        there = contents_of(athlete)
        self.stdout.write(
            f"The log of {user}: {there.workouts} workouts, {there.files} original files, {there.sensors} "
            f"sensors, {there.rows} rows in all. None of it can be brought back."
        )
        if not yes and input(f"Type {user} to delete it: ") != user:
            raise CommandError("That is another name; nothing was deleted.")
        proof = delete_log(athlete)
        self.stdout.write(f"Deleted. Left: {sum(proof.rows.values())} rows and {proof.files} files.")
        if not proof.nothing_left:
            raise CommandError("Something is left; look at the data folder.")
