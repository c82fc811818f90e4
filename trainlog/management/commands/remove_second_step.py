"""Let someone sign in by their password alone, who has lost what makes the codes."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand

from trainlog.management.people import log_named
from trainlog.services.second_step import turn_off
from trainlog.services.sign_ins import end_others


class Command(BaseCommand):
    """``manage.py remove_second_step NAME``."""

    help = (
        "Turn the second step of a person's sign-in off, for someone who has lost key and codes. Make sure "
        "that it is they who ask. They are signed out everywhere."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Say what the command takes."""
        parser.add_argument("name", help="name to sign in with")

    def handle(self, *, name: str, **_: Any) -> None:
        """Turn it off."""
        athlete = log_named(name)
        if not turn_off(athlete.user):
            self.stdout.write(f"{name} has no second step; nothing was changed.")
            return
        end_others(athlete, None)
        self.stdout.write(f"{name} signs in by the password alone now, and is signed out everywhere.")
