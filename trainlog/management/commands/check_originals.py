"""Hold the original files against the rows that name them."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from trainlog.keeping import original_files


class Command(BaseCommand):
    """``manage.py check_originals [--mend]``."""

    help = (
        "Read every original that a row names, and list files that none names. Ends with 1 if an original "
        "is missing or damaged."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Say what the command takes."""
        parser.add_argument(
            "--mend",
            action="store_true",
            help="remove what no row names and what was left half written, once it is older than a day",
        )

    def handle(self, *, mend: bool, **_: Any) -> None:
        """Check, and remove what may be removed."""
        found = original_files.check_originals()
        for owner, sha256 in found.missing:
            self.stdout.write(f"missing    {owner}/{sha256}")
        for owner, sha256 in found.damaged:
            self.stdout.write(f"damaged    {owner}/{sha256}")
        for path in found.orphans:
            self.stdout.write(f"unnamed    {path}")
        for path in found.temporary:
            self.stdout.write(f"unfinished {path}")
        for path in found.unknown:
            self.stdout.write(f"not ours   {path}")
        self.stdout.write(
            f"{found.whole} whole, {len(found.missing)} missing, {len(found.damaged)} damaged, "
            f"{len(found.orphans)} that no row names, {len(found.temporary)} unfinished."
        )
        if mend:
            self.stdout.write(
                f"{len(original_files.mend(found))} removed; what is younger than a day is left."
            )
        if not found.ok:
            raise CommandError(
                "Upload those files again, or get them from a backup: they lie in it as originals/… under "
                "the same names."
            )
