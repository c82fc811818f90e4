"""What tests of several rooms share; some pages have their own, with the physiology they show."""

import pytest
from django.db import connection, transaction
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.recorder import MigrationRecorder
from django.test import Client

from tests.builders import athlete


@pytest.fixture(scope="session")
def django_db_setup(django_db_setup, django_db_blocker):
    """The tests' database, which says that every migration was applied, as an installation's does."""
    with django_db_blocker.unblock():
        recorder = MigrationRecorder(connection)
        recorder.ensure_schema()
        for app, name in set(MigrationLoader(None).disk_migrations) - set(recorder.applied_migrations()):
            recorder.record_applied(app, name)


@pytest.fixture(scope="module")
def rows_of_the_module(django_db_setup, django_db_blocker):
    """Rows that a fixture of the module makes once: each test finds them as they were, the next module none.

    What a test itself changes is taken back to before the test, as ever.
    """
    with django_db_blocker.unblock(), transaction.atomic():
        yield
        transaction.set_rollback(True)


@pytest.fixture
def data_folder(settings, tmp_path):
    """A data folder of the test's own: what it keeps on disk no other finds."""
    settings.DATA_FOLDER = tmp_path
    return tmp_path


@pytest.fixture
def ana():
    """Someone with an open log."""
    return athlete("ana")


@pytest.fixture
def signed_in(ana):
    """Ana's browser, whose requests carry the token by themselves."""
    browser = Client()
    browser.force_login(ana.user)
    return browser
