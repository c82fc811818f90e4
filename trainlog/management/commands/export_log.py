"""Write a whole log into one ZIP."""

from __future__ import annotations

import os
import shutil
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from trainlog.management.people import log_named
from trainlog.services.export_all import export_all


class Command(BaseCommand):
    """``manage.py export_log FILE --user NAME``."""

    help = "Write the whole log of a user into a new ZIP, readable by this account alone."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Say what the command takes."""
        parser.add_argument("file", type=Path, help="file to write; it must not exist yet")
        parser.add_argument("--user", required=True, help="whose log is written")

    def handle(self, *, file: Path, user: str, **_: Any) -> None:
        """Export into a file that is there whole or not at all."""
        athlete = log_named(user)
        unfinished = file.with_name(f"{file.name}.unfinished")
        if file.exists():
            raise CommandError(f"{file} is there already; choose another name.")
        try:
            with (
                export_all(athlete) as whole,
                os.fdopen(os.open(unfinished, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), "wb") as target,
            ):
                shutil.copyfileobj(whole, target)
            unfinished.rename(file)
        except OSError as problem:
            raise CommandError(str(problem)) from problem
        self.stdout.write(f"{file} holds the whole log of {user}.")
