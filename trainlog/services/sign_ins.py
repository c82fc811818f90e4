"""Sign-ins of a person: noted, listed, ended. A session whose row is gone counts no more."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from enum import Enum, auto

from django.conf import settings
from django.contrib.auth.models import User
from django.db.models import Exists, OuterRef, QuerySet
from django.utils import timezone
from django_otp.plugins.otp_totp.models import TOTPDevice

from trainlog.models import Athlete, SignIn
from trainlog.services import second_step

LASTS = timedelta(seconds=settings.SESSION_COOKIE_AGE)
"""How long a sign-in lasts, however much it is used."""

SEEN_AT_MOST_EVERY = timedelta(minutes=1)
"""How often the time of the last request is written, so that reading much costs few writes."""


class Standing(Enum):
    """What a session that a password opened is worth."""

    SIGNED_IN = auto()
    NOT_NOTED = auto()
    """Signed in, but by a version that kept no sign-ins, or before a second step was turned off."""
    CODE_ASKED = auto()
    ENDED = auto()


@dataclass(frozen=True)
class Looked:
    """Standing of a session, and whose log it opens where that is known already."""

    standing: Standing
    athlete: Athlete | None = None


def look(user: User, key: int | None) -> Looked:
    """Tell what a session is worth, and note that it was seen.

    Parameters
    ----------
    user : User
        Whose password opened the session.
    key : int or None
        Of the sign-in that the session names.
    """
    if key is None:
        return Looked(Standing.CODE_ASKED if second_step.is_on(user) else Standing.NOT_NOTED)
    now = timezone.now()
    asks = TOTPDevice.objects.filter(user=OuterRef("owner__user"), confirmed=True)
    row = (
        SignIn.objects.filter(pk=key, owner__user=user, began_at__gt=now - LASTS)
        .select_related("owner__user")
        .annotate(asks_for_code=Exists(asks))
        .first()
    )
    if row is None:
        return Looked(Standing.ENDED)
    if row.asks_for_code and not row.with_code:
        return Looked(Standing.CODE_ASKED)
    before = now - SEEN_AT_MOST_EVERY
    if row.last_seen_at < before:
        # Asked of the row again: of many requests at once one writes.
        SignIn.objects.filter(pk=row.pk, last_seen_at__lt=before).update(last_seen_at=now)
    return Looked(Standing.SIGNED_IN, row.owner)


def note(athlete: Athlete, browser: str, *, with_code: bool = False) -> SignIn:
    """Note a sign-in; those of the athlete that have run out are forgotten."""
    SignIn.objects.of(athlete).filter(began_at__lte=timezone.now() - LASTS).delete()
    return SignIn.objects.create(owner=athlete, browser=browser, with_code=with_code)


def sign_ins_of(athlete: Athlete) -> QuerySet[SignIn]:
    """Sign-ins that still count, the last seen first."""
    return SignIn.objects.of(athlete).filter(began_at__gt=timezone.now() - LASTS)


def end(sign_in: SignIn) -> None:
    """End a sign-in: that browser has to sign in again."""
    sign_in.delete()


def end_others(athlete: Athlete, key: int | None) -> int:
    """End every sign-in but one.

    Parameters
    ----------
    athlete : Athlete
    key : int or None
        Of the one that goes on; None for none.

    Returns
    -------
    int
        How many were ended.
    """
    return SignIn.objects.of(athlete).exclude(pk=key or 0).delete()[0]
