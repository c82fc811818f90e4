"""The database: reached, up to date, set as the program needs it; and a sample of the originals."""

from __future__ import annotations

import random

from django.db import DatabaseError, connection
from django.db.migrations.executor import MigrationExecutor
from django.utils import timezone

from trainlog import originals
from trainlog.keeping.findings import Finding
from trainlog.keeping.tables import named_originals
from trainlog.services.answering import database_answers

SAMPLE = 20
"""Originals that are read; `check_originals` reads all."""

CLOCKS_APART = 5.0
"""Seconds by which the clocks of two machines may differ."""


def reached() -> Finding:
    """Whether the database answers."""
    if database_answers():
        return Finding("database", f"{connection.vendor} answers")
    return Finding(
        "database",
        "it does not answer.",
        "Look at TRAINLOG_DATABASE_URL, and whether the database's server runs.",
    )


def migrations() -> Finding:
    """Whether the tables are those of this version."""
    executor = MigrationExecutor(connection)
    waiting = executor.migration_plan(executor.loader.graph.leaf_nodes())
    if waiting:
        return Finding(
            "tables",
            f"{len(waiting)} migrations have not been applied.",
            "Make a backup, then run `python manage.py migrate`.",
        )
    newer = set(executor.loader.applied_migrations) - set(executor.loader.disk_migrations)
    ours = {app for app, _ in executor.loader.disk_migrations}
    if any(app in ours for app, _ in newer):
        return Finding(
            "tables",
            "they are of a newer version than this program.",
            "Bring the program up to date, or restore a backup of this version.",
        )
    return Finding("tables", "those of this version")


def durability() -> Finding:
    """Whether what was answered for survives a power cut, and writers queue instead of failing."""
    name = "durability"
    if connection.vendor == "sqlite":
        mode, synchronous = _ask("PRAGMA journal_mode"), _ask("PRAGMA synchronous")
        immediate = connection.settings_dict["OPTIONS"].get("transaction_mode") == "IMMEDIATE"
        if mode == "wal" and int(synchronous) >= 2 and immediate:
            return Finding(name, "write-ahead log, full synchronisation, immediate transactions")
        return Finding(
            name,
            f"SQLite runs with journal {mode}, synchronisation {synchronous}"
            f"{'' if immediate else ', deferred transactions'}.",
            "Keep the data folder on a local disk: some network disks know no write-ahead log.",
        )
    off = [
        what for what in ("fsync", "synchronous_commit", "full_page_writes") if _ask(f"SHOW {what}") == "off"
    ]
    if off:
        return Finding(
            name, f"PostgreSQL runs with {', '.join(off)} off.", "Switch it on in postgresql.conf and reload."
        )
    level = _ask("SHOW transaction_isolation")
    if level != "read committed":
        return Finding(
            name,
            f"transactions are {level}; the log is written for read committed.",
            "Set default_transaction_isolation to read committed.",
        )
    return Finding(name, "every commit is on disk before it is answered; read committed")


def soundness() -> Finding:
    """Whether SQLite's file is sound; PostgreSQL looks after its own."""
    if connection.vendor != "sqlite":
        return Finding("database file", "looked after by PostgreSQL")
    said = _ask("PRAGMA quick_check(1)")
    if said == "ok":
        return Finding("database file", "sound")
    return Finding(
        "database file", "it is damaged.", "Stop the log and restore the last backup into a new data folder."
    )


def clocks() -> Finding:
    """Whether the database's clock is this machine's."""
    if connection.vendor == "sqlite":
        return Finding("database's clock", "this machine's own")
    with connection.cursor() as cursor:
        cursor.execute("SELECT clock_timestamp()")
        apart = abs((cursor.fetchone()[0] - timezone.now()).total_seconds())
    if apart <= CLOCKS_APART:
        return Finding("database's clock", "within seconds of this machine's")
    return Finding(
        "database's clock",
        f"{apart:.0f} seconds away from this machine's.",
        "Have both machines set their clocks by network time.",
    )


def sample_of_originals(seed: int | None = None) -> Finding:
    """Whether a few originals, chosen by chance, are whole."""
    named = [
        (owner, sha256) for owner, hashes in named_originals("default").items() for sha256 in sorted(hashes)
    ]
    sample = random.Random(seed).sample(named, min(SAMPLE, len(named)))
    lost = sum(not _is_whole(owner, sha256) for owner, sha256 in sample)
    if lost:
        return Finding(
            "originals",
            f"{lost} of {len(sample)} looked at are missing or damaged.",
            "Run `python manage.py check_originals`, and get those files from a backup.",
        )
    return Finding("originals", f"{len(sample)} of {len(named)} looked at, all whole")


def _is_whole(owner: int, sha256: str) -> bool:
    try:
        originals.read(owner, sha256)
    except (OSError, ValueError):
        return False
    return True


def _ask(question: str) -> str:
    with connection.cursor() as cursor:
        cursor.execute(question)
        row = cursor.fetchone()
    if row is None:
        raise DatabaseError(f"no answer to {question}")
    return str(row[0])
