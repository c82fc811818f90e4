"""The page that says how the numbers are made."""

from django.http import HttpRequest, HttpResponse

from trainlog.web.page import show


def method(request: HttpRequest) -> HttpResponse:
    """Explain the method, its limits, and when not to train by heart rate."""
    return show(request, "method.html")
