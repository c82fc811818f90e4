"""Load the demo scenario in a process of its own.

What it is loaded with stands in a private note in the data folder until all of it is there and the
password was shown, so that a start that was broken off goes on with the same days and password.
"""

from __future__ import annotations

import json
import os
import secrets
from dataclasses import asdict, dataclass
from datetime import date
from pathlib import Path

NOTE = "demo-unfinished"
USER = "demo"


@dataclass(frozen=True)
class DemoLoad:
    """What the demo is loaded with."""

    password: str
    last_day: str


def begun(data_folder: Path) -> DemoLoad | None:
    """Load that was begun and not ended."""
    note = data_folder / NOTE
    return DemoLoad(**json.loads(note.read_text())) if note.exists() else None


def begin(data_folder: Path, last_day: date) -> DemoLoad:
    """Note that a load begins, with a new password."""
    load = DemoLoad(password=secrets.token_urlsafe(9), last_day=last_day.isoformat())
    unfinished = data_folder / f"{NOTE}.new"
    with os.fdopen(os.open(unfinished, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), "w") as file:
        json.dump(asdict(load), file)
    unfinished.rename(data_folder / NOTE)
    return load


def end(data_folder: Path) -> None:
    """Note that all of it is there and the password was shown; it is kept nowhere."""
    (data_folder / NOTE).unlink()


def main() -> None:
    """Load what the note says."""
    import django  # noqa: PLC0415
    from django.conf import settings  # noqa: PLC0415
    from django.core.management import call_command  # noqa: PLC0415

    django.setup()
    if load := begun(Path(settings.DATA_FOLDER)):
        call_command(
            "load_demo", password=load.password, user=USER, last_day=date.fromisoformat(load.last_day)
        )


if __name__ == "__main__":
    main()
