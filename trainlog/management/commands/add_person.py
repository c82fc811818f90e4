"""Make a sign-in with an empty log."""

from __future__ import annotations

import getpass
from argparse import ArgumentParser
from typing import Any

from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError

from trainlog.services.athletes import add_person


class Command(BaseCommand):
    """``manage.py add_person NAME``."""

    help = "Make a sign-in with an empty log; the password is asked for, twice, and never shown."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Say what the command takes."""
        parser.add_argument("name", help="name to sign in with")
        parser.add_argument("--time-zone", default="UTC", help="at home, such as Europe/Lisbon (UTC)")

    def handle(self, *, name: str, time_zone: str, **_: Any) -> None:
        """Ask for a password and make the sign-in."""
        password = getpass.getpass("Password: ")
        if getpass.getpass("The same again: ") != password:
            raise CommandError("The two passwords differ; nothing was made.")
        try:
            add_person(name, password, time_zone=time_zone)
        except ValidationError as refusal:
            raise CommandError(" ".join(refusal.messages)) from refusal
        self.stdout.write(f"{name} can sign in now, to an empty log.")
