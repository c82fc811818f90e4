"""Everything an installation holds, in one file, while it goes on working."""

from __future__ import annotations

import shutil
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from django.db import connection, connections
from django.db.migrations.recorder import MigrationRecorder
from django.utils import timezone

from trainlog import originals
from trainlog.keeping.manifest import Manifest, Table, member_of_original
from trainlog.keeping.rows import Digester, rows_of
from trainlog.keeping.snapshots import snapshot
from trainlog.keeping.tables import kept, named_originals
from trainlog.keeping.values import RowForm, columns_of
from trainlog.keeping.write_archive import ArchiveWriter, whole_or_not_there
from trainlog.version import VERSION

MOST_ATTEMPTS = 5
"""Snapshots taken, where originals of each were deleted before they could be copied."""

_WORKSPACE = ".trainlog-backup-"
_A_DAY = 86_400.0

Originals = dict[str, list[str]]


class BackupRefused(Exception):
    """A backup that cannot be made where it was asked for, and why."""


class _Outdated(Exception):
    """Originals that the snapshot names were deleted from the log meanwhile."""


def backup(target: Path) -> tuple[Path, Manifest]:
    """Write a backup.

    Parameters
    ----------
    target : Path
        New file, or a folder in which the file gets a name by the time.

    Returns
    -------
    tuple of Path and Manifest
        The file and what it holds. Originals that are lost or damaged are named in the manifest.

    Raises
    ------
    BackupRefused
        If there is such a file already, or no such folder.
    OSError
        If it cannot be written; nothing is left under the final name then.
    """
    path = _new_file(target)
    with _workspace(path.parent) as workspace:
        for attempt in range(1, MOST_ATTEMPTS + 1):
            try:
                return path, _write(path, workspace, last=attempt == MOST_ATTEMPTS)
            except _Outdated:
                continue
    raise AssertionError("the last attempt takes the snapshot as it is")


def _write(path: Path, workspace: Path, *, last: bool) -> Manifest:
    with snapshot(workspace) as alias, whole_or_not_there(path, workspace) as archive:
        made_at = timezone.now().isoformat(timespec="seconds")
        # Originals first: the sooner they are copied, the fewer can be deleted before.
        copied, missing = _copy_originals(archive, named_originals(alias))
        if not last and _some_were_deleted(missing):
            raise _Outdated
        manifest = Manifest(
            program=VERSION,
            made_at=made_at,
            database=connection.vendor,
            migrations=sorted(map(list, MigrationRecorder(connections[alias]).applied_migrations())),
            tables=list(_copy_tables(archive, alias)),
            members=archive.members,
            originals=copied,
            missing_originals=missing,
        )
        archive.add_manifest(manifest)
    return manifest


def _copy_originals(archive: ArchiveWriter, named: dict[int, set[str]]) -> tuple[Originals, Originals]:
    """Copy originals that are whole; those copied and those not, by athlete."""
    copied: Originals = {}
    missing: Originals = {}
    for owner, hashes in sorted(named.items()):
        for sha256 in sorted(hashes):
            try:
                content = originals.read(owner, sha256)
            except (FileNotFoundError, ValueError):
                missing.setdefault(str(owner), []).append(sha256)
                continue
            archive.add_bytes(member_of_original(owner, sha256), content)
            copied.setdefault(str(owner), []).append(sha256)
    return copied, missing


def _some_were_deleted(missing: Originals) -> bool:
    if not missing:
        return False
    named = named_originals(connection.alias)
    return any(not named.get(int(owner), set()).issuperset(hashes) for owner, hashes in missing.items())


def _copy_tables(archive: ArchiveWriter, alias: str) -> Iterator[Table]:
    for model in kept():
        label = model._meta.label_lower
        member = f"rows/{label}.jsonl.zst"
        columns = columns_of(model)
        digester = Digester(RowForm(columns))
        archive.add_rows(member, digester.passing(rows_of(model, alias)))
        yield Table(label, member, [column.attname for column in columns], *digester.digest)


def _new_file(target: Path) -> Path:
    path = target / f"trainlog-{timezone.now():%Y%m%d-%H%M%S}.zip" if target.is_dir() else target
    if path.exists():
        raise BackupRefused(f"{path} is there already, and a backup is never overwritten.")
    if not path.parent.is_dir():
        raise BackupRefused(f"There is no folder {path.parent}.")
    return path


@contextmanager
def _workspace(folder: Path) -> Iterator[Path]:
    """Private folder beside the backup, gone at the end; so are those of backups killed long ago."""
    for left in folder.glob(f"{_WORKSPACE}*"):
        if left.is_dir() and time.time() - left.stat().st_mtime > _A_DAY:
            shutil.rmtree(left, ignore_errors=True)
    with tempfile.TemporaryDirectory(dir=folder, prefix=_WORKSPACE) as workspace:
        yield Path(workspace)
