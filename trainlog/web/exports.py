"""Handing out the log's tables."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse, StreamingHttpResponse
from django.http.response import HttpResponseBase
from django.views.decorators.http import require_safe

from trainlog.services import exports
from trainlog.web.forms import DaysInOrder
from trainlog.web.log_filter import day
from trainlog.web.page import UNPROCESSABLE, athlete_of, show

KINDS = {
    "csv": (exports.csv_pieces, "text/csv; charset=utf-8"),
    "parquet": (exports.parquet_pieces, "application/vnd.apache.parquet"),
}
TABLES = exports.TABLES
IN_WORDS = {"workouts": "Workouts, a row for each part", "check-ins": "Mornings", "sets": "Sets of lifting"}


class DaysForm(DaysInOrder):
    """Which days are wanted; both ends may be left open."""

    first = day("From")
    last = day("Until")

    @property
    def offered(self) -> list[tuple[str, list[tuple[str, str]]]]:
        """What can be taken along: words, and the kinds of file with their addresses."""
        return [
            (words, [(kind, f"/export/{table}.{kind}") for kind in KINDS])
            for table, words in IN_WORDS.items()
        ]


@require_safe
def export(request: HttpRequest, table: str, kind: str) -> HttpResponseBase:
    """Hand out a table of the athlete's own, all of it or some days."""
    form = DaysForm(request.GET, auto_id="take_%s")
    if not form.is_valid():
        return _explain(request, form)
    first, last = form.cleaned_data["first"], form.cleaned_data["last"]
    pieces, media_type = KINDS[kind]
    days = [f"from-{first}"] * bool(first) + [f"until-{last}"] * bool(last)
    name = "_".join(["log", table, *days])
    return StreamingHttpResponse(
        pieces(athlete_of(request), table, first, last),
        content_type=media_type,
        headers={"Content-Disposition": f'attachment; filename="{name}.{kind}"'},
    )


def _explain(request: HttpRequest, form: DaysForm) -> HttpResponse:
    return show(request, "export.html", {"take": form}, status=UNPROCESSABLE)
