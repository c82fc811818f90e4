"""Put a whole export into an empty log."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from trainlog.management.people import log_named
from trainlog.services.import_all import ImportRefused, import_all


class Command(BaseCommand):
    """``manage.py import_log FILE --user NAME``."""

    help = "Put a whole export into the empty log of a user: all of it, or nothing."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Say what the command takes."""
        parser.add_argument("file", type=Path, help="the ZIP that “Take it with you” gave")
        parser.add_argument("--user", required=True, help="whose log it becomes")

    def handle(self, *, file: Path, user: str, **_: Any) -> None:
        """Import, and say what came."""
        try:
            with file.open("rb") as whole:
                imported = import_all(log_named(user), whole)
        except (ImportRefused, OSError) as refusal:
            raise CommandError(str(refusal)) from refusal
        self.stdout.write(
            f"The log of {user} holds {imported.workouts} workouts and {imported.files} files now. Its loads "
            "are estimated once the workers run."
        )
