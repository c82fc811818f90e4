"""What is answered when a request is not carried out: problem details as of RFC 9457."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any, NamedTuple

from django.conf import settings
from django.core import exceptions
from django.core.exceptions import TooManyFilesSent
from django.http import Http404, HttpRequest, HttpResponse
from ninja import Field, NinjaAPI, Router, Schema
from ninja import errors as ninja_errors
from pydantic import ValidationError as InvalidCursor

CONTENT_TYPE = "application/problem+json"


class Kind(NamedTuple):
    """One way in which a request is not carried out."""

    name: str
    title: str
    meaning: str


KINDS = {
    400: Kind(
        "not-understood", "Not understood", "The request is not well formed: its body is no JSON, say."
    ),
    401: Kind("sign-in-first", "Sign in first", "There is neither a valid token nor a session."),
    403: Kind(
        "not-allowed",
        "Not allowed",
        "The token may only read, or a browser's request came without the site's CSRF token.",
    ),
    404: Kind("not-found", "Not found", "No such address, or nothing of this kind in your log."),
    405: Kind("not-offered", "Not offered", "This address does not take this method; Allow says which."),
    409: Kind(
        "under-way", "Under way", "A request with this Idempotency-Key is being carried out; ask again later."
    ),
    412: Kind(
        "changed-meanwhile",
        "Changed meanwhile",
        "What is there is no longer what the request names in If-Match, or If-None-Match; read it again.",
    ),
    413: Kind("too-large", "Too large", "More, or larger, than the site takes at once."),
    422: Kind("cannot-be-used", "Cannot be used", "Well formed, but against what is documented or possible."),
    429: Kind("too-many", "Too many requests", "Wait for as many seconds as Retry-After says."),
    500: Kind("went-wrong", "Went wrong", "A fault of the site's; it is noted in its log."),
}


class Problem(Schema):
    """Why a request was not carried out (RFC 9457)."""

    type: str = Field(description="Address of the kind of problem; GET /problems lists them.")
    title: str
    status: int = Field(description="The same as the answer's.")
    detail: str = Field(description="What it was this time, in words.")


class KindAnswer(Schema):
    """A kind of problem."""

    type: str
    title: str
    status: int
    meaning: str


router = Router()


@router.get("/problems", response={200: list[KindAnswer]})
def problems(request: HttpRequest) -> list[KindAnswer]:
    """List the kinds of problems that an operation may answer with."""
    return [
        KindAnswer(type=_type_of(kind), title=kind.title, status=status, meaning=kind.meaning)
        for status, kind in KINDS.items()
    ]


def problem(status: int, detail: str = "") -> HttpResponse:
    """Answer that says what is wrong; by the meaning of its kind where there is no more to say."""
    content = json.dumps(content_of(status, detail))
    answer = HttpResponse(content, status=status, content_type=CONTENT_TYPE)
    if status == 401:
        answer["WWW-Authenticate"] = "Bearer"
    return answer


def content_of(status: int, detail: str = "") -> dict[str, str | int]:
    """What an answer with this status says."""
    kind = KINDS.get(status) or KINDS[500 if status >= 500 else 400]
    return {
        "type": _type_of(kind),
        "title": kind.title,
        "status": status,
        "detail": detail or kind.meaning,
    }


def as_problem(answer: HttpResponse) -> HttpResponse:
    """A refusal in words of the API's, where something before or beside the operations made it."""
    made = problem(answer.status_code, _said_in(answer))
    for header in ("Allow", "Retry-After"):
        if header in answer:
            made[header] = answer[header]
    return made


def answer_with_problems(api: NinjaAPI) -> None:
    """Have an API answer whatever its operations raise with a problem."""

    def nobody(request: HttpRequest, error: ninja_errors.AuthenticationError) -> HttpResponse:
        return problem(401, "Send a token that is valid (Authorization: Bearer …), or sign in on the site.")

    def refused(request: HttpRequest, error: ninja_errors.HttpError) -> HttpResponse:
        return problem(error.status_code, str(error))

    def too_often(request: HttpRequest, error: ninja_errors.Throttled) -> HttpResponse:
        return problem(429)

    def not_found(request: HttpRequest, error: Http404) -> HttpResponse:
        return problem(404, "There is nothing of this kind with this number in your log.")

    def unusable(request: HttpRequest, error: ninja_errors.ValidationError) -> HttpResponse:
        return problem(422, "; ".join(_place_and_message(part) for part in error.errors))

    def impossible(request: HttpRequest, error: exceptions.ValidationError) -> HttpResponse:
        return problem(422, " ".join(error.messages))

    def invalid_cursor(request: HttpRequest, error: InvalidCursor) -> HttpResponse:
        return problem(422, "This cursor is damaged; start again without one.")

    def too_many_files(request: HttpRequest, error: TooManyFilesSent) -> HttpResponse:
        return problem(413, f"Send at most {settings.MAX_FILES_AT_ONCE} files at once.")

    handlers: dict[type[Exception], Callable[[HttpRequest, Any], HttpResponse]] = {
        ninja_errors.AuthenticationError: nobody,
        ninja_errors.HttpError: refused,
        ninja_errors.Throttled: too_often,
        Http404: not_found,
        ninja_errors.ValidationError: unusable,
        exceptions.ValidationError: impossible,
        InvalidCursor: invalid_cursor,
        TooManyFilesSent: too_many_files,
    }
    for kind, handler in handlers.items():
        api.add_exception_handler(kind, handler)


def _said_in(answer: HttpResponse) -> str:
    """Detail of a refusal that says one."""
    if answer.get("Content-Type") != "application/json":
        return ""
    return str(json.loads(answer.content).get("detail", ""))


def _type_of(kind: Kind) -> str:
    return f"/api/v1/problems#{kind.name}"


def _place_and_message(part: dict[str, Any]) -> str:
    place = ".".join(str(step) for step in part.get("loc", ())[1:])
    return f"{place}: {part.get('msg', part)}" if place else str(part.get("msg", part))
