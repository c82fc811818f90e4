"""Aligned traces of pairs for programs; the log's API mounts this router by its name."""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest, StreamingHttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404
from ninja import Router

from accuracy.models import Pair
from accuracy.services.pair_report import pairs_of, traces_of
from trainlog.api.schemas import Problem
from trainlog.models import Athlete
from trainlog.services.second_by_second import KINDS, Columns, pieces

PROBLEMS = frozenset({401, 404, 422})

router = Router()


def _columns_of(pair: Pair) -> Columns:
    reference, tested = traces_of(pair)
    return Columns(pair.part.start, {"reference_bpm": reference, "tested_bpm": tested})


def _traces_as(kind: str) -> Callable[[HttpRequest, int], HttpResponseBase]:
    def traces(request: HttpRequest, id: int) -> HttpResponseBase:
        athlete: Athlete = request.auth  # type: ignore[attr-defined]
        pair = get_object_or_404(pairs_of(athlete), pk=id)
        return StreamingHttpResponse(
            pieces(kind, _columns_of(pair)),
            content_type=KINDS[kind],
            headers={"Content-Disposition": f'attachment; filename="pair-{pair.pk}.{kind}"'},
        )

    traces.__name__ = f"traces_{kind}"
    traces.__doc__ = (
        f"Hand out both traces of a pair, aligned, as {kind}: a row for each second of the part, its time in "
        "UTC, and heart rate in bpm by reference and tested sensor; empty where a second is not common."
    )
    return traces


for _kind in KINDS:
    router.get(
        f"/pairs/{{id}}/traces.{_kind}",
        response={200: bytes, PROBLEMS: Problem},
        openapi_extra={"x-media-types": [KINDS[_kind]]},
    )(_traces_as(_kind))
