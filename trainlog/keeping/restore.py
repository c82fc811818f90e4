"""Putting a backup into an empty installation, all of it or nothing."""

from __future__ import annotations

from collections.abc import Collection
from pathlib import Path

from django.apps.registry import Apps
from django.contrib.contenttypes.models import ContentType
from django.core.management import call_command
from django.db import connections, transaction
from django.db.migrations.executor import MigrationExecutor
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.recorder import MigrationRecorder

from trainlog import originals
from trainlog.keeping.manifest import Damaged, Manifest, Table
from trainlog.keeping.read_archive import Archive, opened
from trainlog.keeping.rows import Digest, Model, RowsRefused, digest_of, empty, fill
from trainlog.keeping.tables import begun_tables, is_filled_by_itself
from trainlog.keeping.values import columns_of

Migration = tuple[str, str]


class RestoreRefused(Exception):
    """A backup that cannot be put here, and why; nothing was changed."""


def restore(path: Path, alias: str = "default") -> Manifest:
    """Put a backup of this or an earlier version into an empty installation.

    Parameters
    ----------
    path : Path
        The backup.
    alias : str
        Database to fill, with or without tables.

    Returns
    -------
    Manifest
        What was restored.

    Raises
    ------
    Damaged
        If anything in the backup is not as it was written; found before anything is changed.
    RestoreRefused
        If the installation is not empty, or the backup is of a newer version.
    RowsRefused
        If the database does not take a row, or would give it back changed.
    """
    with opened(path) as archive:
        manifest = archive.manifest
        archive.check()
        migrations = _known_migrations(manifest, alias)
        _refuse_begun(alias)
        apps = _prepare_tables(migrations, alias)
        models = _models(apps, manifest.tables)
        # First the bytes, durably, then the rows that name them: broken off between, no row lacks its file.
        _keep_originals(archive)
        with transaction.atomic(using=alias):
            _refuse_begun(alias)
            empty([model for model in models if is_filled_by_itself(model._meta.label_lower)], alias)
            tables = dict(zip(models, manifest.tables, strict=True))
            fill(models, alias, lambda model: archive.rows(tables[model]))
            for model, table in tables.items():
                if digest_of(model, alias) != Digest(table.rows, table.values_sha256):
                    raise RowsRefused(f"The database gives rows of {table.model} back changed.")
    ContentType.objects.clear_cache()
    call_command("migrate", database=alias, interactive=False, verbosity=0)
    return manifest


def _known_migrations(manifest: Manifest, alias: str) -> set[Migration]:
    known = MigrationLoader(connections[alias]).disk_migrations
    said = {(app, name) for app, name in manifest.migrations}
    if said - set(known):
        raise RestoreRefused(
            f"The backup is of a newer version, {manifest.program}: it has tables that this one does not "
            "know. Bring the program up to date and try again."
        )
    return said


def _refuse_begun(alias: str) -> None:
    begun = begun_tables(alias)
    if begun:
        raise RestoreRefused(
            f"This installation is not empty: there are rows in {', '.join(sorted(begun)[:3])}"
            f"{' and others' if len(begun) > 3 else ''}. Restore into a new data folder and a new database."
        )


def _prepare_tables(migrations: Collection[Migration], alias: str) -> Apps:
    """Make the tables those that the backup was taken from; models that describe them."""
    connection = connections[alias]
    executor = MigrationExecutor(connection)
    graph = executor.loader.graph
    newest = [
        node
        for node in migrations
        if not any(
            child.key in migrations and child.key[0] == node[0] for child in graph.node_map[node].children
        )
    ]
    if set(MigrationRecorder(connection).applied_migrations()) != set(migrations):
        absent = executor.loader.migrated_apps - {app for app, _ in migrations}
        executor.migrate([*newest, *((app, None) for app in absent)])
    return executor.loader.project_state(newest).apps


def _models(apps: Apps, tables: list[Table]) -> list[Model]:
    models = []
    for table in tables:
        try:
            model = apps.get_model(table.model)
        except LookupError as error:
            raise Damaged(
                f"The backup has rows of {table.model}, which its version does not know."
            ) from error
        if [column.attname for column in columns_of(model)] != table.columns:
            raise Damaged(f"The backup has other columns of {table.model} than its version.")
        models.append(model)
    return models


def _keep_originals(archive: Archive) -> None:
    for owner, hashes in archive.manifest.originals.items():
        for sha256 in hashes:
            originals.keep(int(owner), archive.original(owner, sha256))
