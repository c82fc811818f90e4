"""From one database into another, row by row, and each row compared."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.db import connection, connections, transaction
from django.db.migrations.recorder import MigrationRecorder

from trainlog.databases import as_used
from trainlog.keeping.rows import Digest, compare, empty, fill, rows_of
from trainlog.keeping.snapshots import another_database, snapshot
from trainlog.keeping.tables import begun_tables, is_filled_by_itself, kept


class MoveRefused(Exception):
    """A database that cannot be moved there, and why; nothing was changed."""


def move_database(target_config: dict[str, Any]) -> dict[str, Digest]:
    """Copy every kept row of the program's database into an empty one, and compare each.

    The program's own database is only read. Originals lie in the data folder and stay there.

    Parameters
    ----------
    target_config : dict
        Django's settings of the database to fill; tables are made where there are none.

    Returns
    -------
    dict of Digest by str
        Rows of each table and the hash of their values, the same in both databases.

    Raises
    ------
    MoveRefused
        If the target is the source, is not empty, or has tables of another version.
    RowsRefused
        If the target does not take a row or gives it back changed; it is left empty then.
    """
    if _is_the_same(target_config):
        raise MoveRefused("That is the database in use already.")
    with (
        tempfile.TemporaryDirectory(dir=settings.DATA_FOLDER, prefix=".moving-") as workspace,
        another_database("target", as_used(target_config)) as target,
        snapshot(Path(workspace)) as source,
    ):
        _prepare(source, target)
        with transaction.atomic(using=target):
            _refuse_begun(target)
            models = kept()
            empty([model for model in models if is_filled_by_itself(model._meta.label_lower)], target)
            fill(models, target, lambda model: rows_of(model, source))
            moved = {model._meta.label_lower: compare(model, source, target) for model in models}
        if connections[target].vendor == "postgresql":
            with connections[target].cursor() as cursor:
                cursor.execute("ANALYZE")  # without statistics the first pages would be slow
    return moved


def _is_the_same(target: dict[str, Any]) -> bool:
    ours = connection.settings_dict
    return all(
        str(ours.get(name, "")) == str(target.get(name, "")) for name in ("ENGINE", "NAME", "HOST", "PORT")
    )


def _prepare(source: str, target: str) -> None:
    applied = set(MigrationRecorder(connections[source]).applied_migrations())
    if not MigrationRecorder(connections[target]).applied_migrations():
        if connections[target].introspection.table_names():
            raise MoveRefused(
                "The other database holds tables of something else. Make one for this log alone."
            )
        call_command("migrate", database=target, interactive=False, verbosity=0)
    if set(MigrationRecorder(connections[target]).applied_migrations()) != applied:
        raise MoveRefused(
            "The two databases have tables of different versions. Run `python manage.py migrate` first, "
            "and give a new database to move into."
        )
    _refuse_begun(target)


def _refuse_begun(target: str) -> None:
    begun = begun_tables(target)
    if begun:
        raise MoveRefused(
            f"The other database is not empty: there are rows in {', '.join(sorted(begun)[:3])}."
        )
