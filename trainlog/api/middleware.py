"""What holds for every address of the API, also where no operation answers."""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse

from trainlog.api.problems import CONTENT_TYPE, as_problem

ROOT = "/api/"
VERSIONED = "/api/v1/"


class ApiMiddleware:
    """Let an address without a version mean the first one, and answer every refusal with a problem."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Answer a request; those of pages are left as they are."""
        if not request.path_info.startswith(ROOT):
            return self.get_response(request)
        if not request.path_info.startswith(VERSIONED):
            before = request.path.removesuffix(request.path_info)
            request.path_info = VERSIONED + request.path_info.removeprefix(ROOT)
            request.path = before + request.path_info
        answer = self.get_response(request)
        if answer.status_code >= 400 and not answer.get("Content-Type", "").startswith(CONTENT_TYPE):
            return as_problem(answer)
        return answer
