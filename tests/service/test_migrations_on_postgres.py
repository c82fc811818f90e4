"""Every migration on PostgreSQL, with data in all tables."""

import environ
import pytest

from tests.every_migration import NEEDED, lost_or_changed, walk
from trainlog.keeping.snapshots import another_database

pytestmark = pytest.mark.service


def test_every_migration_runs_with_data_and_loses_none_of_it(new_database, django_db_blocker):
    config = environ.Env.db_url_config(new_database)
    with django_db_blocker.unblock(), another_database("walked", config) as alias:
        rows, apps = walk(alias)
        assert all(len(rows.put[f"trainlog.{name}"]) == rows.round >= 8 for name in NEEDED)
        assert lost_or_changed(rows, apps) == []
