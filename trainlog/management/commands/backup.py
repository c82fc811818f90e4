"""Write a backup, or check one."""

from __future__ import annotations

import sqlite3
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db import DatabaseError

from trainlog.keeping.backup import BackupRefused, backup
from trainlog.keeping.findings import counted
from trainlog.keeping.manifest import Damaged, Manifest
from trainlog.keeping.read_archive import verify
from trainlog.management.exits import LACKING


class Command(BaseCommand):
    """``manage.py backup TARGET`` and ``manage.py backup --verify FILE``."""

    help = (
        "Write everything the log holds into one file, while it goes on working. Secret key, settings and "
        "sessions are not inside. Ends with 1 if nothing was written, and with 2 if the backup is whole but "
        "originals were already missing."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Say what the command takes."""
        parser.add_argument("target", type=Path, help="new file, or folder for a file named by the time")
        parser.add_argument("--verify", action="store_true", help="check a backup instead of writing one")

    def handle(self, *, target: Path, verify: bool, **_: Any) -> None:
        """Write or check."""
        if verify:
            self._verify(target)
        else:
            self._backup(target)

    def _backup(self, target: Path) -> None:
        try:
            path, manifest = backup(target)
        except BackupRefused as refusal:
            raise CommandError(str(refusal)) from refusal
        except (OSError, DatabaseError, sqlite3.Error) as error:
            raise CommandError(f"The backup could not be written, and none is there: {error}") from error
        self.stdout.write(f"{path}: {path.stat().st_size / 1e6:.1f} MB, {_told(manifest)}.")
        self.stdout.write("Keep the secret key and the settings elsewhere: they are not inside.")
        if manifest.missing_count:
            raise CommandError(
                f"Not inside, because missing or damaged: {_missing(manifest)}. Everything else is. "
                "Keep older backups, and run `python manage.py check_originals`.",
                returncode=LACKING,
            )

    def _verify(self, path: Path) -> None:
        try:
            manifest = verify(path)
        except (Damaged, OSError) as error:
            raise CommandError(str(error)) from error
        self.stdout.write(f"{path} is whole: {_told(manifest)}.")
        if manifest.missing_count:
            raise CommandError(f"Missing already when it was made: {_missing(manifest)}.", returncode=LACKING)


def _missing(manifest: Manifest) -> str:
    return counted(manifest.missing_count, "original")


def _told(manifest: Manifest) -> str:
    return (
        f"{counted(manifest.row_count, 'row')} and {counted(manifest.original_count, 'original')} of "
        f"{manifest.made_at} from {manifest.database}, version {manifest.program}"
    )
