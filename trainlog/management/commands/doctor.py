"""Say in plain words what is wrong with an installation."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandError

from trainlog.keeping.doctor import examine


class Command(BaseCommand):
    """``manage.py doctor``."""

    help = (
        "Look at the whole installation: one line each, ok or what to mend and how. Ends with 1 if anything."
    )
    requires_system_checks: list[str] = []  # they are among what is looked at

    def handle(self, **_: Any) -> None:
        """Look, and tell."""
        to_mend = 0
        for finding in examine():
            self.stdout.write(str(finding))
            self.stdout.flush()
            to_mend += not finding.ok
        if to_mend:
            raise CommandError(f"{to_mend} to mend." if to_mend > 1 else "One thing to mend.")
