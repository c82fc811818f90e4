"""What recovery hours claimed from the wrist alone are worth."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_safe

from accuracy.services.claimed_recovery import claims_of
from trainlog.web.page import athlete_of, show


@require_safe
def claimed_recoveries(request: HttpRequest) -> HttpResponse:
    """Show claims from wrist and strap side by side: a fragment for the recovery page, or a page."""
    fragment = request.htmx  # type: ignore[attr-defined]
    template = "accuracy/_claimed_recovery.html" if fragment else "accuracy/claimed_recovery.html"
    return show(request, template, {"claims": claims_of(athlete_of(request))})
