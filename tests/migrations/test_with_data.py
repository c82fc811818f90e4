import re

import pytest
from django.db import connection, connections
from django.db.migrations.recorder import MigrationRecorder

from tests.every_migration import NEEDED, lost_or_changed, walk
from trainlog.keeping.snapshots import SQLITE, another_database
from trainlog.keeping.tables import kept


@pytest.fixture(scope="module")
def walked(django_db_blocker, tmp_path_factory):
    """A SQLite database that has seen every migration with rows in all tables."""
    config = {
        "ENGINE": SQLITE,
        "NAME": str(tmp_path_factory.mktemp("walk") / "walked.sqlite3"),
        "OPTIONS": {"init_command": "PRAGMA synchronous=OFF"},
    }
    with django_db_blocker.unblock(), another_database("walked", config) as alias:
        yield walk(alias)


def test_every_migration_runs_with_data_and_loses_none_of_it(walked):
    assert lost_or_changed(*walked) == []


def test_the_walk_had_rows_in_the_tables_of_the_log_before_every_migration_but_the_first(walked):
    rows, apps = walked
    assert all(len(rows.put[f"trainlog.{name}"]) == rows.round for name in NEEDED)
    assert rows.round >= 8


def test_the_walk_ends_with_the_tables_that_the_models_describe(walked):
    rows, _ = walked
    tables = set(connections[rows.alias].introspection.table_names())
    assert {model._meta.db_table for model in kept()} <= tables


def test_every_table_of_the_log_had_a_row_before_the_newest_migration(walked):
    rows, apps = walked
    ours = {
        model._meta.label_lower
        for model in apps.get_models()
        if model._meta.app_label in {"trainlog", "accuracy"}
    }
    assert ours <= set(rows.put)


def tables_and_indexes(of):
    """What SQLite was told to make, by kind and name: the columns and constraints of each in order of name.

    A column that came later stands last in a table that migrations made, and in the order of the model in one
    that was made from it; nothing else may differ.
    """
    with of.cursor() as cursor:
        cursor.execute("SELECT type, name, sql FROM sqlite_master")
        return {(kind, name): sorted(_clauses(sql or "")) for kind, name, sql in cursor.fetchall()}


def _clauses(sql):
    """Text before the first bracket, and what stands between commas in no further bracket."""
    depth, begins = 0, 0
    for place, letter in enumerate(sql):
        if (letter == "(" and depth == 0) or (letter == "," and depth == 1):
            yield re.sub(r"\s+", " ", sql[begins:place]).strip()
            begins = place + 1
        depth += (letter == "(") - (letter == ")")
        if letter == ")" and depth == 0:
            yield re.sub(r"\s+", " ", sql[begins:place]).strip()
            begins = place + 1
    yield sql[begins:].strip()


@pytest.mark.skipif(connection.vendor != "sqlite", reason="on PostgreSQL migrations make the tests' tables")
def test_the_tests_tables_which_models_made_are_those_that_migrations_make(django_db_setup, walked):
    rows, _ = walked
    made = tables_and_indexes(connection)
    assert len(made) > 100
    assert made == tables_and_indexes(connections[rows.alias])


def test_the_tests_database_says_that_every_migration_was_applied(django_db_setup, walked):
    rows, _ = walked
    assert applied(connection) == applied(connections[rows.alias])


def applied(of):
    return set(MigrationRecorder(of).applied_migrations())
