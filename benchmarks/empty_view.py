"""The log's addresses, and one that answers nothing: what any answer to somebody signed in takes at least."""

from django.http import HttpRequest, HttpResponse
from django.urls import path

from trainlog.urls import urlpatterns as addresses


def empty(request: HttpRequest) -> HttpResponse:
    """Nothing."""
    return HttpResponse()


urlpatterns = [*addresses, path("empty", empty)]
