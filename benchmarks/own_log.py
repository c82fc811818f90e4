"""An installation for one run: settings of its own in a folder that is gone afterwards."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path


def settings_in(folder: str | Path) -> dict[str, str]:
    """Environment of an installation in a folder: SQLite, and wake-ups that nobody hears."""
    return {
        "DJANGO_SETTINGS_MODULE": "trainlog.settings",
        "TRAINLOG_DATA_FOLDER": str(folder),
        "TRAINLOG_SECRET_KEY": "only-for-the-benchmark",
        "TRAINLOG_BROKER_URL": "memory://",
    }


@contextmanager
def own_log() -> Iterator[Path]:
    """Set Django up in a new folder, with every table; only then can models be imported."""
    with tempfile.TemporaryDirectory(prefix="trainlog-bench-") as folder:
        os.environ |= settings_in(folder)
        import django  # noqa: PLC0415

        django.setup()
        from django.core.management import call_command  # noqa: PLC0415

        call_command("migrate", verbosity=0)
        yield Path(folder)
