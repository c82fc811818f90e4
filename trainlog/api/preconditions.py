"""Tags of what is shown, and changes that are made only to what the program has seen (RFC 9110, 13)."""

from __future__ import annotations

import copy
import hashlib
from collections.abc import Callable
from functools import wraps
from typing import Any, cast

from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.utils.cache import get_conditional_response
from django.utils.http import parse_etags

from trainlog.api.problems import problem
from trainlog.api.who import whose
from trainlog.models import Athlete
from trainlog.services.log_changed import hold_log

Run = Callable[..., HttpResponseBase]

CHANGES_ONE = frozenset({"PUT", "PATCH", "DELETE"})


def tag_of(content: bytes) -> str:
    """Tag of an answer's content: another content has another."""
    return f'"{hashlib.sha256(content).hexdigest()[:32]}"'


def heed_preconditions(run: Run) -> Run:
    """Give what is shown a tag, and carry out no change of what is no longer as its tag says."""

    @wraps(run)
    def heeding(request: HttpRequest, **parameters: Any) -> HttpResponseBase:
        if request.method == "GET":
            return _tagged(request, run(request, **parameters))
        if request.method not in CHANGES_ONE:
            return run(request, **parameters)
        athlete = whose(request) if _asked_for(request) else None
        if athlete is None:
            return _with_tag(run(request, **parameters))
        return _if_as_said(request, athlete, run, parameters)

    return heeding


def _tagged(request: HttpRequest, answer: HttpResponseBase) -> HttpResponseBase:
    """What is shown, with its tag; without content (304) for whoever has it already."""
    if answer.status_code != 200:
        return answer
    following = getattr(request, "next_page", None)
    if following:
        answer["Link"] = f'<{following}>; rel="next"'
    _with_tag(answer)
    etag = answer.get("ETag")
    if etag is None:
        return answer
    # It only reads headers, which answers in pieces have too.
    return get_conditional_response(request, etag=etag, response=cast(HttpResponse, answer)) or answer


def _with_tag(answer: HttpResponseBase) -> HttpResponseBase:
    if answer.status_code == 200 and isinstance(answer, HttpResponse) and "ETag" not in answer:
        answer["ETag"] = tag_of(answer.content)
    return answer


def _asked_for(request: HttpRequest) -> bool:
    return "HTTP_IF_MATCH" in request.META or "HTTP_IF_NONE_MATCH" in request.META


def _if_as_said(
    request: HttpRequest, athlete: Athlete, run: Run, parameters: dict[str, Any]
) -> HttpResponseBase:
    """Compare and change while nobody else who compares can: of two with the same tag one is refused."""
    with transaction.atomic():
        hold_log(athlete)
        shown = _shown(request)
        there = shown.status_code == 200
        makes_it = request.method == "PUT" and shown.status_code == 404
        if not there and not makes_it:
            # What is not there, not this athlete's or not even possible is told as without a tag.
            return run(request, **parameters)
        if not _holds(request, shown.get("ETag") if there else None):
            return problem(412)
        answer = run(request, **parameters)
        if answer.status_code >= 400:
            transaction.set_rollback(True)
    return _with_tag(answer)


def _shown(request: HttpRequest) -> HttpResponseBase:
    """What a GET of the same address answers now."""
    look = copy.copy(request)
    look.method = "GET"
    look.META = {name: value for name, value in request.META.items() if not name.startswith("HTTP_IF_")}
    look.__dict__.pop("headers", None)
    look.is_own_look = True  # type: ignore[attr-defined]
    match = request.resolver_match
    if match is None:
        raise RuntimeError("an operation runs at an address")
    shown: HttpResponseBase = match.func(look, *match.args, **match.kwargs)
    return shown


def _holds(request: HttpRequest, tag: str | None) -> bool:
    wanted = request.META.get("HTTP_IF_MATCH")
    if wanted is not None and not _among(wanted, tag):
        return False
    unwanted = request.META.get("HTTP_IF_NONE_MATCH")
    return unwanted is None or not _among(unwanted, tag)


def _among(header: str, tag: str | None) -> bool:
    """Whether a tag is one of those in a header; packing an answer makes its tag weak, which is the same."""
    if tag is None:
        return False
    return any(one == "*" or one.removeprefix("W/") == tag for one in parse_etags(header))
