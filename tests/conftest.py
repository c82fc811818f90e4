"""What tests of several rooms share; some pages have their own, with the physiology they show."""

import pytest
from django.test import Client

from tests.builders import athlete


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
