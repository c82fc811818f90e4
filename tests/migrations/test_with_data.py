import pytest
from django.db import connections

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
