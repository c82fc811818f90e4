"""Databases on a real PostgreSQL, one for each test that asks."""

from __future__ import annotations

import os
from contextlib import contextmanager

import psycopg
import pytest

POSTGRES = os.environ.get("TEST_POSTGRES", "postgres://postgres@127.0.0.1:5432")


@contextmanager
def postgres_database(name: str):
    """Address of a new database, gone at the end."""
    name = f"trainlog_{name}_{os.getpid()}"
    with psycopg.connect(f"{POSTGRES}/postgres", autocommit=True) as server:
        server.execute(f"DROP DATABASE IF EXISTS {name} WITH (FORCE)")
        server.execute(f"CREATE DATABASE {name}")
    try:
        yield f"{POSTGRES}/{name}"
    finally:
        with psycopg.connect(f"{POSTGRES}/postgres", autocommit=True) as server:
            server.execute(f"DROP DATABASE {name} WITH (FORCE)")


@pytest.fixture
def new_database():
    """Address of a new database without tables."""
    with postgres_database("new") as address:
        yield address
