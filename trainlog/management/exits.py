"""Exit codes beyond 0 and 1, and refusals that commands share."""

from pathlib import Path

from django.conf import settings
from django.core.management.base import CommandError

from trainlog.serve.holds import is_held

LACKING = 2
"""What was asked for is done, and something that should have been in it was not there."""


def refuse_while_served(why: str) -> None:
    """Refuse while `manage.py serve` runs on this data folder.

    Raises
    ------
    CommandError
        If it does.
    """
    if is_held(Path(settings.DATA_FOLDER) / "lock"):
        raise CommandError(f"Stop the log first: {why}")
