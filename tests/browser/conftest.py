"""The browser's requests and the test write at once: a file takes that, an in-memory database does not."""

import pytest
from django.db import connection


@pytest.fixture(scope="session")
def django_db_modify_db_settings(tmp_path_factory):
    if connection.vendor == "sqlite":
        connection.settings_dict["TEST"]["NAME"] = str(tmp_path_factory.mktemp("database") / "test.sqlite3")
