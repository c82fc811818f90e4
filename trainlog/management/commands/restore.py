"""Put a backup into an empty installation."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db import DatabaseError

from trainlog.keeping.findings import counted
from trainlog.keeping.manifest import Damaged
from trainlog.keeping.restore import RestoreRefused, restore
from trainlog.keeping.rows import RowsRefused
from trainlog.management.exits import refuse_while_served


class Command(BaseCommand):
    """``manage.py restore FILE``."""

    help = (
        "Put a backup of this or an earlier version into an empty installation, on SQLite or PostgreSQL. "
        "The whole backup is checked first, and every value is compared afterwards."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Say what the command takes."""
        parser.add_argument("file", type=Path, help="the backup")

    def handle(self, *, file: Path, **_: Any) -> None:
        """Restore."""
        refuse_while_served("nobody may write while a backup is put back.")
        try:
            manifest = restore(file)
        except (Damaged, RestoreRefused, RowsRefused) as refusal:
            raise CommandError(f"{refusal} No row was restored.") from refusal
        except (OSError, DatabaseError) as error:
            raise CommandError(f"The backup could not be put back: {error}") from error
        rows, originals = counted(manifest.row_count, "row"), counted(manifest.original_count, "original")
        self.stdout.write(
            f"Restored {rows} and {originals} of {manifest.made_at}; all are as they were. "
            "Everyone signs in again."
        )
        if manifest.missing_count:
            missing = counted(manifest.missing_count, "original")
            self.stdout.write(f"Missing already when the backup was made: {missing}.")
