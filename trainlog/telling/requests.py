"""Each request gets an id, one line, and its place in the counts."""

from __future__ import annotations

import logging
import time
from collections.abc import Callable

from django.http import HttpRequest, HttpResponse

from trainlog.telling.context import request_id, valid_or_new
from trainlog.telling.log_lines import route_of
from trainlog.telling.timings import count_request

logger = logging.getLogger("trainlog.access")

HEADER = "X-Request-ID"


class RequestMiddleware:
    """Outermost of all, so that whatever is told within a request is told with its id."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Answer, and tell method, route, status and milliseconds; never the address, which holds keys."""
        own = valid_or_new(request.headers.get(HEADER))
        token = request_id.set(own)
        began = time.perf_counter()
        try:
            response = self.get_response(request)
            response[HEADER] = own
            seconds = time.perf_counter() - began
            route, method = route_of(request), str(request.method)
            ms = round(1000 * seconds, 1)
            logger.info(
                "%s %s %d in %.1f ms",
                *(method, route, response.status_code, ms),
                extra={"method": method, "route": route, "status": response.status_code, "ms": ms},
            )
            count_request(route, method, response.status_code, seconds)
            return response
        finally:
            request_id.reset(token)
