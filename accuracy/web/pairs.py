"""Pages of one pair, and of all pairs of a part."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.views.decorators.http import require_safe

from accuracy.models import Pair
from accuracy.services.exports import file_name, pair_figures, pair_rows
from accuracy.services.offers import maximum_offer
from accuracy.services.pair_report import pairs_of
from accuracy.shown import learned
from accuracy.shown.pair import epoch_of, pair_page
from accuracy.shown.part_findings import findings_of
from accuracy.web.files import csv_file, json_file
from trainlog.models import Part
from trainlog.web.page import athlete_of, show


@require_safe
def pair(request: HttpRequest, pk: int) -> HttpResponse:
    """Show how the two sensors of a pair agree, second by second and in all figures."""
    found = _pair(request, pk)
    return show(request, "accuracy/pair.html", pair_page(found, epoch_of(request.GET.get("epoch"))))


@require_safe
def pair_csv(request: HttpRequest, pk: int) -> HttpResponse:
    """Hand out both traces of a pair with their flags, second by second."""
    found = _pair(request, pk)
    return csv_file(pair_rows(found), _name(found, "csv"))


@require_safe
def pair_json(request: HttpRequest, pk: int) -> HttpResponse:
    """Hand out all figures of a pair with their units."""
    found = _pair(request, pk)
    return json_file(pair_figures(found), _name(found, "json"))


@require_safe
def part_findings(request: HttpRequest, pk: int) -> HttpResponse:
    """Show a part's figures side by side, why its load is as sure as it is, and how the sensors agree.

    A fragment for the workout's page, or a page of its own.
    """
    athlete = athlete_of(request)
    part = get_object_or_404(Part.objects.of(athlete).select_related("workout", "activity"), pk=pk)
    offer = maximum_offer(athlete)
    context = {
        "part": part,
        "lines": learned.pairs_of_part(athlete, part),
        "flagged": learned.flagged_of_part(athlete, part),
        "found": findings_of(athlete, part),
        "offer": offer if offer is not None and offer.part == part else None,
    }
    fragment = request.htmx  # type: ignore[attr-defined]
    return show(request, "accuracy/_findings.html" if fragment else "accuracy/findings.html", context)


def _pair(request: HttpRequest, pk: int) -> Pair:
    return get_object_or_404(pairs_of(athlete_of(request)), pk=pk)


def _name(found: Pair, ending: str) -> str:
    tested = found.tested.sensor.name if found.tested.sensor else "tested"
    start = found.part.local_start
    return file_name(
        "pair", f"{start:%Y-%m-%d}", f"{start:%H%M}", found.part.activity.slug, tested, ending=ending
    )
