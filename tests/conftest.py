"""What the tests of the API share; pages have their own, with the physiology they show."""

import pytest
from django.test import Client

from tests.builders import athlete


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
