"""Where the person has signed in: noted by each session, listed, ended."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.contrib.auth.models import User
from django.contrib.auth.signals import user_logged_in, user_logged_out
from django.dispatch import receiver
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.http import require_POST, require_safe

from trainlog.models import SignIn
from trainlog.services import second_step, sign_ins
from trainlog.services.athletes import log_of
from trainlog.web.browsers import browser_in_words
from trainlog.web.page import athlete_of, own_log_only, show

NAMED = "sign_in"
"""In the session: key of the sign-in that it belongs to."""


def own_key(request: HttpRequest) -> int | None:
    """Key of the sign-in of this browser."""
    key: int | None = request.session.get(NAMED)
    return key


def note(request: HttpRequest, user: User, *, with_code: bool = False) -> None:
    """Note that this browser has signed in, in place of what it was signed in as before."""
    athlete = log_of(user)
    SignIn.objects.of(athlete).filter(pk=own_key(request) or 0).delete()
    browser = browser_in_words(request.headers.get("User-Agent", ""))
    request.session[NAMED] = sign_ins.note(athlete, browser, with_code=with_code).pk


@receiver(user_logged_in, dispatch_uid="note_sign_in")
def password_given(request: HttpRequest, user: User, **_: Any) -> None:
    """Note a sign-in that needs no code; where one is asked, it is noted once that is given."""
    if second_step.is_on(user):
        left(request)
        request.session.pop(NAMED, None)
    else:
        note(request, user)


@receiver(user_logged_out, dispatch_uid="forget_sign_in")
def left(request: HttpRequest, **_: Any) -> None:
    """Forget a sign-in that was ended where it was begun."""
    if (key := own_key(request)) is not None:
        SignIn.objects.filter(pk=key).delete()


@require_safe
@own_log_only
def listed(request: HttpRequest) -> HttpResponse:
    """List where the person has signed in, this browser first."""
    own = own_key(request)
    rows = sorted(sign_ins.sign_ins_of(athlete_of(request)), key=lambda row: row.pk != own)
    return show(request, "sign_ins.html", {"rows": rows, "own": own, "days": sign_ins.LASTS.days})


@require_POST
@own_log_only
def end(request: HttpRequest, pk: int) -> HttpResponse:
    """End one sign-in; ending one's own leads to the sign-in page."""
    row = get_object_or_404(SignIn.objects.of(athlete_of(request)), pk=pk)
    sign_ins.end(row)
    messages.success(request, f"Signed out: {row.browser}.")
    return redirect("sign_ins")


@require_POST
@own_log_only
def end_others(request: HttpRequest) -> HttpResponse:
    """End every sign-in but this one."""
    ended = sign_ins.end_others(athlete_of(request), own_key(request))
    messages.success(
        request, f"{ended} other sign-in{' is' if ended == 1 else 's are'} ended; only this browser is left."
    )
    return redirect("sign_ins")
