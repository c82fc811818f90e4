"""Page of the strap plan: where one more pair would bring most, and what earlier ones brought."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_safe

from accuracy.shown.strap_plan import strap_plan_page
from trainlog.web.page import athlete_of, show


@require_safe
def strap_plan(request: HttpRequest) -> HttpResponse:
    """Show the ranked strap sessions, the days that chance drew, and the gains that came."""
    return show(request, "accuracy/strap_plan.html", strap_plan_page(athlete_of(request)))
