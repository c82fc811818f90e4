"""How much a request may bring, told from what it says of itself before a byte is read."""

from __future__ import annotations

from collections.abc import Callable

from django.conf import settings
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render

TOO_LARGE = 413


class BodyLimitMiddleware:
    """Answer 413 to a body that is too long.

    Only files may be large, and only of whoever is known: the check of a form's token reads the whole
    form, before anything asks for a sign-in.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Refuse what is too long."""
        most = _most(request)
        if _said(request) <= most:
            return self.get_response(request)
        megabytes = f"{most // 2**20 if most > 10 * 2**20 else most / 2**20:g} MB"
        if request.path.startswith("/api/"):
            # The API's own middleware makes it a problem like every other.
            problem = {"detail": f"Send at most {megabytes} in one request."}
            return JsonResponse(problem, status=TOO_LARGE)
        return render(request, "413.html", {"megabytes": megabytes}, status=TOO_LARGE)


def _said(request: HttpRequest) -> int:
    """Bytes of the body as its header says; the server hands on no more than that."""
    try:
        return int(request.META.get("CONTENT_LENGTH") or 0)
    except ValueError:
        return 0


def _most(request: HttpRequest) -> int:
    known = request.user.is_authenticated or request.path.startswith("/api/")
    if known and request.content_type == "multipart/form-data":
        return settings.MAX_BODY_BYTES
    return settings.DATA_UPLOAD_MAX_MEMORY_SIZE
