"""What every answer says of itself to the browser, beside what Django and the content policy say."""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse

NOT_NEEDED = ", ".join(
    f"{feature}=()"
    for feature in (
        *("accelerometer", "camera", "display-capture", "geolocation", "gyroscope", "hid"),
        *("magnetometer", "microphone", "midi", "payment", "serial", "usb"),
    )
)
"""What a browser could let a page do, and no page here does."""


class PrivatePagesMiddleware:
    """Have nothing kept that was made for someone who has signed in, and claim no powers of the browser."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Add the headers that are not there."""
        answer = self.get_response(request)
        answer.headers.setdefault("Permissions-Policy", NOT_NEEDED)
        known = request.user.is_authenticated or "Authorization" in request.headers
        if known or hasattr(request, "code_asked_of"):
            # A disk that is read later, or the next person at this browser, finds no page of it.
            answer.headers.setdefault("Cache-Control", "private, no-store")
        return answer
