"""Telling of the first pair, once."""

from __future__ import annotations

from datetime import timedelta

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.views.decorators.http import require_safe

from accuracy.models import Pair
from trainlog.web.log import FIRST_PAIR_TOLD
from trainlog.web.page import athlete_of, show

STAYS_FOR = timedelta(minutes=10)
"""How long the note stays once it was shown: the log is drawn anew while estimates come in."""


@require_safe
def first_pair(request: HttpRequest) -> HttpResponse:
    """Tell that there is a first pair, as a fragment for the log; or lead to it."""
    pairs = Pair.objects.of(athlete_of(request)).defer("reference_trace", "tested_trace")
    pair = (
        pairs.select_related("part__activity", "part__workout__owner", "tested__sensor")
        .order_by("-usable", "part__start")
        .first()
    )
    if not request.htmx:  # type: ignore[attr-defined]
        return redirect("pair", pair.pk) if pair else redirect("sensors")
    if pair is not None and FIRST_PAIR_TOLD not in request.session:
        request.session[FIRST_PAIR_TOLD] = (timezone.now() + STAYS_FOR).timestamp()
    return show(request, "accuracy/_first_pair.html", {"pair": pair})
