"""How many requests a program or a browser may make in a minute."""

from __future__ import annotations

import time

from django.conf import settings
from django.core.cache import cache
from django.http import HttpRequest
from ninja.throttling import BaseThrottle

from trainlog.api.who import SAFE_METHODS

WINDOW = 60
"""Seconds."""


class RequestsAMinute(BaseThrottle):
    """Count the requests of each token and session, reads and changes apart, minute by minute.

    Each web process counts for itself.
    """

    def allow_request(self, request: HttpRequest) -> bool:
        """Whether the request is among those allowed in this minute; a limit of 0 is none."""
        reads = request.method in SAFE_METHODS
        limit = settings.API_READS_A_MINUTE if reads else settings.API_CHANGES_A_MINUTE
        if not limit or getattr(request, "is_own_look", False):
            return True
        token = getattr(request, "token_id", None)
        asks = f"token-{token}" if token else f"session-{request.session.session_key}"
        key = f"api-{'reads' if reads else 'changes'}-{asks}-{int(time.time() // WINDOW)}"
        cache.add(key, 0, 2 * WINDOW)
        try:
            return cache.incr(key) <= limit
        except ValueError:
            return True  # dropped from the cache between the two lines

    def wait(self) -> float:
        """Seconds until the next minute."""
        return WINDOW - time.time() % WINDOW
