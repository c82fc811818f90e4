"""Whom a command is about."""

from __future__ import annotations

from django.core.management.base import CommandError

from trainlog.models import Athlete
from trainlog.services.athletes import log_of, user_named


def log_named(name: str) -> Athlete:
    """Log of the user with this name.

    Raises
    ------
    CommandError
        If there is no such user.
    """
    user = user_named(name)
    if user is None:
        raise CommandError(f"There is no user {name}. Make one first: python manage.py add_person {name}")
    return log_of(user)
