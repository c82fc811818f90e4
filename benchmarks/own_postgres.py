"""A database for one run on a PostgreSQL server that is there (TEST_POSTGRES says where)."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager

POSTGRES = os.environ.get("TEST_POSTGRES", "postgres://postgres@127.0.0.1:5432")
DATABASE = f"trainlog_bench_{os.getpid()}"


class NoPostgres(Exception):
    """No server answers."""


@contextmanager
def own_postgres() -> Iterator[dict[str, str]]:
    """Environment of an installation on a new database, which is gone afterwards.

    Raises
    ------
    NoPostgres
        If no server answers.
    """
    import psycopg  # noqa: PLC0415

    try:
        with psycopg.connect(f"{POSTGRES}/postgres", autocommit=True, connect_timeout=3) as server:
            server.execute(f"CREATE DATABASE {DATABASE}")
    except psycopg.OperationalError as refusal:
        raise NoPostgres(f"No PostgreSQL answers at {POSTGRES}") from refusal
    try:
        yield {"TRAINLOG_DATABASE_URL": f"{POSTGRES}/{DATABASE}"}
    finally:
        with psycopg.connect(f"{POSTGRES}/postgres", autocommit=True) as server:
            server.execute(f"DROP DATABASE {DATABASE} WITH (FORCE)")
