"""Who is asking: everyone signs in, and everyone who has signed in has a log."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.contrib.auth.middleware import LoginRequiredMiddleware
from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase

from trainlog.services.athletes import log_of


class SignedInMiddleware(LoginRequiredMiddleware):
    """Ask for a sign-in everywhere but in the API, whose operations answer 401 themselves."""

    def process_view(
        self,
        request: HttpRequest,
        view_func: Callable[..., HttpResponseBase],
        view_args: Any,
        view_kwargs: Any,
    ) -> HttpResponseBase | None:
        """Redirect a visitor to the sign-in page."""
        if request.path.startswith("/api/"):
            return None
        return super().process_view(request, view_func, view_args, view_kwargs)


class AthleteMiddleware:
    """Give the request the log of whoever has signed in."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Set ``request.athlete``."""
        if request.user.is_authenticated:
            request.athlete = log_of(request.user)  # type: ignore[attr-defined]
        return self.get_response(request)
