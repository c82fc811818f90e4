import re

import pytest

from tests.builders import athlete
from trainlog.models import ApiToken
from trainlog.services.tokens import make_token

pytestmark = pytest.mark.django_db

FIELDS = {"name": "my script", "scope": "read", "days": "90"}


@pytest.fixture
def ana(client):
    owner = athlete()
    client.force_login(owner.user)
    return owner


def page(client):
    return client.get("/account/programs").content.decode()


def test_a_token_is_shown_once_and_opens_the_api(client, ana):
    response = client.post("/account/programs", FIELDS)
    (secret,) = re.findall(r">(tl_[\w-]{40,})<", response.content.decode())
    assert "no-store" in response["Cache-Control"]
    assert secret not in page(client)
    program = type(client)(headers={"Authorization": f"Bearer {secret}"})
    assert program.get("/api/workouts").status_code == 200


def test_tokens_are_listed_with_what_they_may_and_when_they_were_used(client, ana):
    make_token(ana, "my script", "write", 30)
    shown = page(client)
    for words in ("my script", "read and change", "never", f"{ApiToken.objects.get().expires_at:%b %Y}"):
        assert words in shown


def test_a_revoked_token_is_gone_from_the_list(client, ana):
    row = make_token(ana, "my script", "read", 30).row
    assert client.get(f"/account/tokens/{row.pk}/revoke").status_code == 405
    shown = client.post(f"/account/tokens/{row.pk}/revoke", follow=True).content.decode()
    assert "is revoked" in shown
    assert "No program has one." in shown


@pytest.mark.parametrize("changes", [{"name": " "}, {"scope": "all"}, {"days": "31"}])
def test_a_token_that_cannot_be_is_refused_beside_its_field(client, ana, changes):
    response = client.post("/account/programs", FIELDS | changes)
    assert response.status_code == 422
    assert 'class="error"' in response.content.decode()
    assert not ApiToken.objects.exists()
