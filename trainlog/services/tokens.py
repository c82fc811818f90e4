"""Tokens by which programs act for an athlete: made, recognised, revoked."""

from __future__ import annotations

import hashlib
import secrets
from dataclasses import dataclass
from datetime import timedelta

from django.core.exceptions import ValidationError
from django.db.models import Q, QuerySet
from django.utils import timezone

from trainlog.models import ApiToken, Athlete

PREFIX = "tl_"
"""By which a secret found in some file can be told for what it is."""

RANDOM_BYTES = 32
DAYS = (30, 90, 365)
"""For how many days a token can be made."""

MOST_TOKENS = 50
USED_AT_MOST_EVERY = timedelta(minutes=1)
"""How often the time of the last use is written, so that reading much costs few writes."""


@dataclass(frozen=True)
class NewToken:
    """A token that was just made, with the secret that is shown once and kept nowhere."""

    row: ApiToken
    secret: str


def make_token(athlete: Athlete, name: str, scope: str, days: int) -> NewToken:
    """Make a token.

    Parameters
    ----------
    athlete : Athlete
        For whom the program acts.
    name : str
        Which program it is for.
    scope : str
        One of ``ApiToken.Scope``.
    days : int
        Until it expires; one of `DAYS`.

    Raises
    ------
    ValidationError
        If there is no name, no such scope or time, or if there are many tokens already.
    """
    if days not in DAYS:
        raise ValidationError({"days": "A token is valid for 30, 90 or 365 days."})
    if ApiToken.objects.of(athlete).count() >= MOST_TOKENS:
        raise ValidationError(f"There are {MOST_TOKENS} tokens already; revoke one that is no longer used.")
    secret = PREFIX + secrets.token_urlsafe(RANDOM_BYTES)
    row = ApiToken(
        owner=athlete,
        name=name.strip(),
        beginning=secret[: len(PREFIX) + 6],
        sha256=_digest(secret),
        scope=scope,
        expires_at=timezone.now() + timedelta(days=days),
    )
    row.full_clean(exclude=["owner"], validate_constraints=False)
    row.save()
    return NewToken(row, secret)


def tokens_of(athlete: Athlete) -> QuerySet[ApiToken]:
    """Tokens of an athlete, newest first, expired ones too."""
    return ApiToken.objects.of(athlete)


def revoke(token: ApiToken) -> None:
    """Take a token back: from now on it opens nothing."""
    token.delete()


def valid_token(secret: str) -> ApiToken | None:
    """Token with this secret, if it is valid now; that it was used is noted.

    Parameters
    ----------
    secret : str
        As the program sent it.
    """
    now = timezone.now()
    token = (
        ApiToken.objects.select_related("owner__user")
        .filter(sha256=_digest(secret), expires_at__gt=now, owner__user__is_active=True)
        .first()
    )
    if token is not None:
        # Asked of the row, not of what was read: of many requests at once one writes.
        ApiToken.objects.filter(
            Q(last_used_at=None) | Q(last_used_at__lt=now - USED_AT_MOST_EVERY), pk=token.pk
        ).update(last_used_at=now)
    return token


def _digest(secret: str) -> str:
    """Hash under which a secret is kept.

    One round of SHA-256 is enough: slow hashes protect passwords, which can be guessed; nobody guesses 256
    random bits, and each request would pay for the slowness.
    """
    return hashlib.sha256(secret.encode("utf-8", "surrogateescape")).hexdigest()
