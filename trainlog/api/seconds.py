"""Signals for programs, second by second: one operation for each kind of file."""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest, StreamingHttpResponse
from ninja import Router

from trainlog.api.document import MEDIA_TYPES
from trainlog.api.schemas import Problem
from trainlog.models import Athlete
from trainlog.services.second_by_second import KINDS, Columns, pieces

PROBLEMS = frozenset({401, 404, 422})


def hand_out(
    router: Router, address: str, name: str, columns_of: Callable[[Athlete, int], Columns], words: str
) -> None:
    """Add an operation for each kind of file.

    Parameters
    ----------
    router : Router
        Of the feature.
    address : str
        With ``{id}``, and without the kind.
    name : str
        Stem of the file's name, which its row's number follows.
    columns_of : callable
        Signals of an athlete's row; raises `Http404` if there is none.
    words : str
        What the operation does, with ``{kind}``.
    """
    for kind in KINDS:
        router.get(
            f"{address}.{kind}",
            response={200: bytes, PROBLEMS: Problem},
            openapi_extra={MEDIA_TYPES: [KINDS[kind]]},
        )(_operation(kind, name, columns_of, words.format(kind=kind)))


def _operation(
    kind: str, name: str, columns_of: Callable[[Athlete, int], Columns], words: str
) -> Callable[[HttpRequest, int], StreamingHttpResponse]:
    def operation(request: HttpRequest, id: int) -> StreamingHttpResponse:
        return StreamingHttpResponse(
            pieces(kind, columns_of(request.auth, id)),  # type: ignore[attr-defined]
            content_type=KINDS[kind],
            headers={"Content-Disposition": f'attachment; filename="{name}-{id}.{kind}"'},
        )

    # The router names an operation by its function, and describes it in its function's words.
    operation.__name__ = f"{name}_{kind}"
    operation.__doc__ = words
    return operation
