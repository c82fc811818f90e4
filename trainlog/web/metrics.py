"""Figures for whoever watches the installation, in Prometheus' text format."""

from __future__ import annotations

import hmac
from ipaddress import ip_address
from urllib.parse import urlsplit

from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe
from prometheus_client import CONTENT_TYPE_LATEST, CollectorRegistry, generate_latest

from trainlog.services.gauges import Gauges
from trainlog.telling import slots
from trainlog.telling.timings import OWN

FORWARDED = ("Forwarded", "X-Forwarded-For", "X-Forwarded-Host", "X-Forwarded-Proto", "X-Real-IP")
"""Headers of a proxy, behind which everybody seems to ask from this machine."""


@require_safe
@never_cache
@login_not_required
def metrics(request: HttpRequest) -> HttpResponse:
    """Answer with gauges from the database and counts of requests and tasks; nothing of any one log."""
    if not _may_ask(request):
        refusal = HttpResponse("A bearer token is needed.\n", status=401, content_type="text/plain")
        refusal["WWW-Authenticate"] = "Bearer"
        return refusal
    gauges = CollectorRegistry()
    gauges.register(Gauges())
    text = generate_latest(gauges) + generate_latest(slots.registry(OWN))
    return HttpResponse(text, content_type=CONTENT_TYPE_LATEST)


def _may_ask(request: HttpRequest) -> bool:
    """Whether the token was given; without one, whether all of it stays on this machine."""
    if settings.METRICS_TOKEN:
        given = request.headers.get("Authorization", "").encode()
        return hmac.compare_digest(given, f"Bearer {settings.METRICS_TOKEN}".encode())
    if any(name in request.headers for name in FORWARDED):
        return False
    return _is_this_machine(urlsplit(settings.BASE_URL).hostname) and _is_this_machine(
        request.META.get("REMOTE_ADDR")
    )


def _is_this_machine(host: str | None) -> bool:
    if host == "localhost":
        return True
    try:
        return ip_address(host or "").is_loopback
    except ValueError:
        return False
