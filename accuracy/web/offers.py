"""The offer of a new maximum, for the account's page or as a page of its own."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_safe

from accuracy.services.offers import maximum_offer
from trainlog.web.page import athlete_of, show


@require_safe
def offered_maximum(request: HttpRequest) -> HttpResponse:
    """Show the maximum that a reference held above the entered one, if any."""
    fragment = request.htmx  # type: ignore[attr-defined]
    return show(
        request,
        "accuracy/_maximum_offer.html" if fragment else "accuracy/maximum_offer.html",
        {"offer": maximum_offer(athlete_of(request))},
    )
