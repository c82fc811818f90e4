from datetime import timedelta

import pytest
from django.core.exceptions import ValidationError
from django.utils import timezone

from trainlog.models import ApiToken
from trainlog.services import tokens
from trainlog.services.tokens import make_token, revoke, valid_token

pytestmark = pytest.mark.django_db


def test_a_token_is_known_by_its_secret_which_is_kept_nowhere(ana):
    made = make_token(ana, "my script", "read", 30)
    assert valid_token(made.secret) == made.row
    row = ApiToken.objects.filter(pk=made.row.pk).values().get()
    assert not [value for value in row.values() if str(value) == made.secret]
    assert made.secret.startswith(row["beginning"])
    assert len(row["beginning"]) < len(made.secret) / 4


def test_two_tokens_have_nothing_in_common_but_their_prefix(ana):
    one, other = (make_token(ana, "my script", "read", 30) for _ in range(2))
    assert one.secret != other.secret
    assert len(one.secret) > 40


def test_a_token_ends_on_its_day(ana):
    made = make_token(ana, "my script", "read", 90)
    assert timedelta(days=89) < made.row.expires_at - timezone.now() <= timedelta(days=90)
    ApiToken.objects.update(expires_at=timezone.now() - timedelta(seconds=1))
    assert valid_token(made.secret) is None


def test_a_revoked_token_opens_nothing(ana):
    made = make_token(ana, "my script", "read", 30)
    revoke(made.row)
    assert valid_token(made.secret) is None


def test_a_token_of_someone_who_may_no_longer_sign_in_opens_nothing(ana):
    made = make_token(ana, "my script", "read", 30)
    ana.user.is_active = False
    ana.user.save()
    assert valid_token(made.secret) is None


def test_the_last_use_is_written_at_most_once_a_minute(ana, monkeypatch):
    secret = make_token(ana, "my script", "read", 30).secret
    now = timezone.now()
    written = []
    for seconds in (0, 30, 61):
        monkeypatch.setattr(tokens.timezone, "now", lambda seconds=seconds: now + timedelta(seconds=seconds))
        valid_token(secret)
        written.append(ApiToken.objects.get().last_used_at)
    assert written == [now, now, now + timedelta(seconds=61)]


@pytest.mark.parametrize(
    ("name", "scope", "days"), [("", "read", 30), ("a", "all", 30), ("a", "read", 31), ("a" * 61, "read", 30)]
)
def test_a_token_without_name_scope_or_end_is_refused(ana, name, scope, days):
    with pytest.raises(ValidationError):
        make_token(ana, name, scope, days)
    assert not ApiToken.objects.exists()


def test_there_is_an_end_to_how_many_tokens_one_has(ana, monkeypatch):
    monkeypatch.setattr(tokens, "MOST_TOKENS", 1)
    make_token(ana, "one", "read", 30)
    with pytest.raises(ValidationError, match="revoke one"):
        make_token(ana, "two", "read", 30)
