"""A session counts as signed in while its sign-in stands, and once the second step is taken."""

from __future__ import annotations

from collections.abc import Callable

from django.contrib.auth import logout
from django.contrib.auth.models import AnonymousUser
from django.http import HttpRequest, HttpResponse

from trainlog.services.sign_ins import Standing, look
from trainlog.web.sign_ins import note, own_key


class SignInMiddleware:
    """Make a visitor of whoever was signed out elsewhere, or still owes the code.

    Everything after it asks ``request.user`` alone, so no page and no operation has to know of a second
    step. Programs come with tokens and without a session; they are asked for none.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Set ``request.user``, ``code_asked_of`` and, where it is known, ``own_log``."""
        if request.user.is_authenticated:
            looked = look(request.user, own_key(request))
            if looked.standing is Standing.ENDED:
                logout(request)
            elif looked.standing is Standing.CODE_ASKED:
                request.code_asked_of = request.user  # type: ignore[attr-defined]
                request.user = AnonymousUser()
            elif looked.standing is Standing.NOT_NOTED:
                note(request, request.user)
            request.own_log = looked.athlete  # type: ignore[attr-defined]
        return self.get_response(request)
