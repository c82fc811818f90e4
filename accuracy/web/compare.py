"""Page that holds tested sensors against one another."""

from __future__ import annotations

from django.http import Http404, HttpRequest, HttpResponse
from django.views.decorators.http import require_safe

from accuracy.comparison_form import ComparisonForm
from accuracy.services.comparison_export import comparison_figures, comparison_rows
from accuracy.services.exports import file_name
from accuracy.services.sensor_comparison import Answer, compare
from accuracy.shown.comparison import comparison_page
from accuracy.web.files import csv_file, json_file
from trainlog.web.page import UNPROCESSABLE, athlete_of, show


@require_safe
def compare_sensors(request: HttpRequest) -> HttpResponse:
    """Show how the sensors that are asked for differ."""
    athlete = athlete_of(request)
    form = ComparisonForm(athlete, request.GET)
    context = {"form": form, "asked": request.GET.urlencode()}
    if not form.is_valid():
        return show(request, "accuracy/compare.html", context, status=UNPROCESSABLE)
    return show(request, "accuracy/compare.html", context | comparison_page(compare(athlete, form.wish)))


@require_safe
def comparison_csv(request: HttpRequest) -> HttpResponse:
    """Hand out one row a session with the figures of both sensors."""
    return csv_file(comparison_rows(_answer(request)), file_name("sensors-compared", ending="csv"))


@require_safe
def comparison_json(request: HttpRequest) -> HttpResponse:
    """Hand out the whole comparison with its units."""
    return json_file(comparison_figures(_answer(request)), file_name("sensors-compared", ending="json"))


def _answer(request: HttpRequest) -> Answer:
    form = ComparisonForm(athlete_of(request), request.GET)
    if not form.is_valid():
        raise Http404("no such comparison")
    return compare(athlete_of(request), form.wish)
