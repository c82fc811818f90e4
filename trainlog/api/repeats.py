"""Requests that carry an Idempotency-Key: sent twice, they are done once and answered alike."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from functools import wraps
from typing import Any

from django.conf import settings
from django.core.exceptions import RequestDataTooBig, TooManyFilesSent
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.http.multipartparser import MultiPartParserError
from django.http.response import HttpResponseBase

from trainlog.api.problems import problem
from trainlog.api.who import whose
from trainlog.models import Athlete, UploadKey
from trainlog.services.upload_keys import (
    Answer,
    KeyOfAnother,
    UnderWay,
    free_key,
    keep_answer,
    take_key,
)

Run = Callable[..., HttpResponseBase]

LONGEST_KEY = 200
MULTIPART = "multipart/form-data"


def do_once(run: Run) -> Run:
    """Carry out a POST with a key once, and answer it alike when it comes again within a day."""

    @wraps(run)
    def doing_once(request: HttpRequest, **parameters: Any) -> HttpResponseBase:
        key = request.META.get("HTTP_IDEMPOTENCY_KEY")
        athlete = whose(request) if key is not None and request.method == "POST" else None
        if key is None or athlete is None:
            return run(request, **parameters)
        if not 0 < len(key) <= LONGEST_KEY or not key.isprintable():
            return problem(422, f"An Idempotency-Key has 1 to {LONGEST_KEY} printable characters.")
        taken = _taken(request, athlete, key)
        if isinstance(taken, HttpResponse):
            return taken
        return _carried_out(request, run, parameters, taken)

    return doing_once


def _taken(request: HttpRequest, athlete: Athlete, key: str) -> UploadKey | HttpResponse:
    """The key, taken for this request; or what is answered in place of carrying it out."""
    try:
        taken = take_key(athlete, key, _hash_of(request))
    except KeyOfAnother:
        refusal = (422, "This Idempotency-Key was given to another request before; choose a new one.")
    except UnderWay:
        refusal = (409, "")
    except TooManyFilesSent:
        refusal = (413, f"Send at most {settings.MAX_FILES_AT_ONCE} files at once.")
    except RequestDataTooBig:
        refusal = (413, "")
    except MultiPartParserError as error:
        refusal = (400, str(error))
    else:
        if isinstance(taken, Answer):
            return HttpResponse(taken.content, status=taken.status, content_type="application/json")
        return taken
    return problem(*refusal)


def _carried_out(
    request: HttpRequest, run: Run, parameters: dict[str, Any], taken: UploadKey
) -> HttpResponseBase:
    try:
        if request.content_type == MULTIPART:
            # Files are kept one by one, each for good, and the same bytes again change nothing.
            answer = run(request, **parameters)
            _keep(taken, answer)
        else:
            with transaction.atomic():
                # The change and the answer to its key together: neither is there without the other.
                answer = run(request, **parameters)
                _keep(taken, answer)
                if answer.status_code >= 400:
                    transaction.set_rollback(True)
    except BaseException:
        free_key(taken)
        raise
    if answer.status_code >= 300:
        free_key(taken)
    return answer


def _keep(taken: UploadKey, answer: HttpResponseBase) -> None:
    if answer.status_code < 300 and isinstance(answer, HttpResponse):
        keep_answer(taken, Answer(answer.status_code, answer.content.decode()))


def _hash_of(request: HttpRequest) -> str:
    """Hash of address and body; of files their names and bytes, as the boundary between them is chance."""
    found = hashlib.sha256(f"{request.get_full_path()}\n{request.content_type}\n".encode())
    if request.content_type != MULTIPART:
        found.update(request.body)
        return found.hexdigest()
    for name, values in sorted(request.POST.lists()):
        found.update(repr((name, values)).encode())
    for name, files in sorted(request.FILES.lists()):
        for file in files:
            found.update(repr((name, file.name, file.size)).encode())
            for piece in file.chunks():
                found.update(piece)
            file.seek(0)
    return found.hexdigest()
