"""Who is asking an operation: somebody's browser, or a program with a token."""

from __future__ import annotations

from django.conf import settings
from django.http import HttpRequest
from ninja.errors import AuthenticationError, HttpError
from ninja.security import HttpBearer, SessionAuth

from trainlog.models import ApiToken, Athlete
from trainlog.services.tokens import valid_token

SAFE_METHODS = frozenset({"GET", "HEAD", "OPTIONS"})


class Token(HttpBearer):
    """A token in the header ``Authorization: Bearer``; no cookie goes with it, so no CSRF token either."""

    def authenticate(self, request: HttpRequest, token: str) -> Athlete:
        """Log for which the token was made.

        Raises
        ------
        AuthenticationError
            If it is unknown, revoked or expired; a session beside it is not asked then.
        HttpError
            403, if it may only read and the request would change something.
        """
        found = valid_token(token)
        if found is None:
            raise AuthenticationError
        if found.scope != ApiToken.Scope.WRITE and request.method not in SAFE_METHODS:
            raise HttpError(403, "This token may only read.")
        request.token_id = found.pk  # type: ignore[attr-defined]
        return found.owner


class SignedIn(SessionAuth):
    """The browser's session; requests that change something also need its CSRF token."""

    param_name = settings.SESSION_COOKIE_NAME

    def __call__(self, request: HttpRequest) -> Athlete | None:
        """Log of whoever has signed in; a visitor is told so (401) before any talk of tokens (403)."""
        return super().__call__(request) if request.user.is_authenticated else None

    def authenticate(self, request: HttpRequest, key: str | None) -> Athlete | None:
        """Log of whoever has signed in."""
        return getattr(request, "athlete", None)


def whose(request: HttpRequest) -> Athlete | None:
    """Log that a request is about; None where the operation itself is going to refuse it."""
    try:
        return Token()(request) or SignedIn()(request)
    except HttpError:
        return None
