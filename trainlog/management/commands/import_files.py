"""Import files and folders at once."""

from __future__ import annotations

from argparse import ArgumentParser
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from trainlog.management.exits import LACKING
from trainlog.management.people import log_named
from trainlog.services.watch_folder import take_or_say_why


class Command(BaseCommand):
    """``manage.py import_files PATH… --user NAME``."""

    help = (
        "Import files, and every file in folders and the folders in them, with a line on each: what was "
        "found, that it is in the log already, or what to fix. Your files are never moved, changed or "
        f"deleted. Ends with 0 if all are in the log, with {LACKING} if some could not be taken, with 1 if "
        "none was tried."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Say what the command takes."""
        parser.add_argument("paths", nargs="+", type=Path, metavar="PATH", help="a file or a folder")
        parser.add_argument("--user", required=True, help="whose log the files go into")

    def handle(self, *, paths: list[Path], user: str, **_: Any) -> None:
        """Import one file after the other; a bad one does not hold up the others."""
        athlete = log_named(user)
        missing = [str(path) for path in paths if not path.expanduser().exists()]
        if missing:
            raise CommandError(f"There is no {', '.join(missing)}.")
        files = list(dict.fromkeys(file for path in paths for file in _files(path.expanduser())))
        if not files:
            raise CommandError("There is no file in these folders.")
        new = known = refused = 0
        for number, (file, name) in enumerate(files, start=1):
            for line in take_or_say_why(athlete, file, name):
                refused += line.refused
                known += line.known
                new += not line.refused and not line.known
                self._say(f"[{number}/{len(files)}] {line.text}")
        self._say(f"{new} new, {known} in the log already, {refused} not taken.")
        if refused:
            raise CommandError(f"{refused} could not be taken; the lines above say why.", returncode=LACKING)

    def _say(self, text: str) -> None:
        self.stdout.write(" ".join(text.split()))
        self.stdout.flush()


def _files(path: Path) -> Iterator[tuple[Path, str]]:
    """Files that a path names, each with the name by which it was meant."""
    if not path.is_dir():
        yield path, path.name
        return
    for file in sorted(path.rglob("*")):
        inside = file.relative_to(path)
        # Names that begin with a dot are those of files under way, or of other programs.
        if file.is_file() and not any(part.startswith(".") for part in inside.parts):
            yield file, str(inside)
