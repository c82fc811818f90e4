"""A second database beside the program's own, and a view of its own that stands still."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any

from django.db import DEFAULT_DB_ALIAS, connection, connections, transaction

SQLITE = "django.db.backends.sqlite3"


@contextmanager
def another_database(alias: str, config: dict[str, Any]) -> Iterator[str]:
    """Make a database known under a name, for as long as the block lasts.

    Parameters
    ----------
    alias : str
        Name to ask for it by.
    config : dict
        Its settings, as Django takes them.
    """
    known = connections.configure_settings({DEFAULT_DB_ALIAS: connection.settings_dict, alias: dict(config)})
    connections.settings[alias] = known[alias]
    try:
        yield alias
    finally:
        connections[alias].close()
        del connections[alias]
        del connections.settings[alias]


@contextmanager
def snapshot(workspace: Path) -> Iterator[str]:
    """Name of a database that holds the program's own as it is at this instant, whatever others write.

    Nobody who writes waits for it: SQLite's is a copy by its own backup interface, PostgreSQL's a
    read-only transaction with one view of all tables.

    Parameters
    ----------
    workspace : Path
        Folder for the copy.
    """
    if connection.settings_dict["ENGINE"] == SQLITE:
        copy = workspace / "snapshot.sqlite3"
        copy.unlink(missing_ok=True)
        connection.ensure_connection()
        with closing(sqlite3.connect(copy)) as target:
            connection.connection.backup(target)  # in one step: a later write would begin it anew
        with another_database("snapshot", {"ENGINE": SQLITE, "NAME": str(copy)}) as alias:
            yield alias
        return
    config = {name: value for name, value in connection.settings_dict.items() if name != "TEST"}
    with (
        another_database("snapshot", config | {"CONN_MAX_AGE": 0}) as alias,
        transaction.atomic(using=alias),
    ):
        with connections[alias].cursor() as cursor:
            cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")
        yield alias
