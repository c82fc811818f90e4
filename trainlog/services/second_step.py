"""The second step of a sign-in: a code that changes every half minute (RFC 6238), or one that counts once."""

from __future__ import annotations

from base64 import b32encode

import segno
from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone
from django_otp import verify_token
from django_otp.plugins.otp_static.models import StaticDevice, StaticToken
from django_otp.plugins.otp_totp.models import TOTPDevice

DIGITS = 6
ONE_TIME_CODES = 10
NAME = "second step"

HASTE = "haste"
"""Of a refusal that looked at no code, and so is no failure."""

WRONG = "That code is not right, or it was used already."


def is_on(user: User) -> bool:
    """Whether this person's sign-in asks for a code."""
    return TOTPDevice.objects.filter(user=user, confirmed=True).exists()


def codes_left(user: User) -> int:
    """How many codes that count once are left."""
    return StaticToken.objects.filter(device__user=user, device__confirmed=True).count()


def begin(user: User) -> None:
    """Make a key to be confirmed; one that was made before and not confirmed is forgotten.

    Raises
    ------
    ValidationError
        If there is a second step already.
    """
    if is_on(user):
        raise ValidationError("There is a second step already; turn it off first.")
    with transaction.atomic():
        TOTPDevice.objects.filter(user=user, confirmed=False).delete()
        TOTPDevice.objects.create(user=user, name=NAME, confirmed=False)


def begun(user: User) -> TOTPDevice | None:
    """Key that waits to be confirmed, if there is one."""
    return TOTPDevice.objects.filter(user=user, confirmed=False).first()


def written_key(device: TOTPDevice) -> str:
    """Key as one types it, in groups of four."""
    key = b32encode(device.bin_key).decode().rstrip("=")
    return " ".join(key[place : place + 4] for place in range(0, len(key), 4))


def drawn_key(device: TOTPDevice) -> str:
    """Key as a QR code: an SVG that needs neither script nor style, to be sized by its class."""
    drawn: str = segno.make(device.config_url, error="m").svg_inline(
        border=4, dark="#000", light="#fff", omitsize=True, svgclass="qr", lineclass=None
    )
    return drawn


def confirm(user: User, code: str) -> list[str]:
    """Turn the second step on, once a code shows that the key has arrived.

    Returns
    -------
    list of str
        Codes that count once, to be shown this once.

    Raises
    ------
    ValidationError
        If the code is not right, comes too soon after a wrong one, or no key waits.
    """
    device = begun(user)
    if device is None:
        raise ValidationError("There is no key to confirm; begin again.")
    _refuse_haste(device)
    if verify_token(user, device.persistent_id, _bare(code)) is None:
        raise ValidationError(WRONG)
    with transaction.atomic():
        TOTPDevice.objects.filter(pk=device.pk).update(confirmed=True)
        return new_codes(user)


def new_codes(user: User) -> list[str]:
    """Make codes that count once in place of those that are left."""
    with transaction.atomic():
        StaticDevice.objects.filter(user=user).delete()
        device = StaticDevice.objects.create(user=user, name=NAME)
        codes = [StaticToken.random_token() for _ in range(ONE_TIME_CODES)]
        StaticToken.objects.bulk_create(StaticToken(device=device, token=code) for code in codes)
    return [f"{code[:4]} {code[4:]}" for code in codes]


def check(user: User, code: str) -> None:
    """Accept a code of either kind; it counts no second time.

    Raises
    ------
    ValidationError
        If it is not right, or comes too soon after a wrong one: the wait doubles with each.
    """
    bare = _bare(code)
    kind = TOTPDevice if len(bare) == DIGITS and bare.isdecimal() else StaticDevice
    device = kind.objects.filter(user=user, confirmed=True).first()
    if device is None:
        raise ValidationError(WRONG)
    _refuse_haste(device)
    if verify_token(user, device.persistent_id, bare) is None:
        raise ValidationError(WRONG)


def turn_off(user: User) -> bool:
    """Ask for no code any more; the key and all codes are forgotten.

    Returns
    -------
    bool
        Whether there was a second step.
    """
    with transaction.atomic():
        was_on = is_on(user)
        for kind in (TOTPDevice, StaticDevice):
            kind.objects.filter(user=user).delete()
    return was_on


def _bare(code: str) -> str:
    return "".join(code.split()).replace("-", "").lower()


def _refuse_haste(device: TOTPDevice | StaticDevice) -> None:
    allowed, why = device.verify_is_allowed()
    if not allowed:
        seconds = max(1, round((why["locked_until"] - timezone.now()).total_seconds()))
        raise ValidationError(
            f"Wait {seconds} s after a wrong code before the next; it was not looked at.", code=HASTE
        )
