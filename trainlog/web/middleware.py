"""Who is asking: everyone signs in, and everyone who has signed in has a log."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.contrib.auth.middleware import LoginRequiredMiddleware
from django.contrib.auth.views import redirect_to_login
from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase

from trainlog.services.athletes import log_of
from trainlog.web.demo import looked_at, refuse_files


class SignedInMiddleware(LoginRequiredMiddleware):
    """Ask for a sign-in everywhere but in the API, whose operations answer 401 themselves."""

    def process_view(
        self,
        request: HttpRequest,
        view_func: Callable[..., HttpResponseBase],
        view_args: Any,
        view_kwargs: Any,
    ) -> HttpResponseBase | None:
        """Redirect a visitor to the sign-in page, and whoever still owes a code to the page that asks."""
        if request.path.startswith("/api/"):
            return None
        if getattr(request, "code_asked_of", None) and getattr(view_func, "login_required", True):
            return redirect_to_login(request.get_full_path(), "sign_in_code")
        return super().process_view(request, view_func, view_args, view_kwargs)


class AthleteMiddleware:
    """Give the request the log of whoever has signed in, or the demo if that is being looked at.

    Programs always get the person's own log: an operation must not depend on what a browser looks at.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Set ``request.athlete``."""
        if request.user.is_authenticated:
            demo = None if request.path.startswith("/api/") else looked_at(request)
            request.athlete = demo or getattr(request, "own_log", None) or log_of(request.user)  # type: ignore[attr-defined]
        return self.get_response(request)

    def process_view(
        self,
        request: HttpRequest,
        view_func: Callable[..., HttpResponseBase],
        view_args: Any,
        view_kwargs: Any,
    ) -> HttpResponseBase | None:
        """Refuse files for the demo: whoever removes it must lose nothing of their own."""
        athlete = getattr(request, "athlete", None)
        # Whether a request brings files is known once its body is read, so only what may bring some is.
        if athlete is None or athlete.demo_for_id is None or request.content_type != "multipart/form-data":
            return None
        return refuse_files(request) if request.FILES else None
