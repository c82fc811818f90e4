"""Page of the reports: asking for one, its state, its files."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from accuracy.models import Report, ReportFile
from accuracy.report.download import as_download
from accuracy.services.reports import ask_for_report, delete_report, reports_of, sensors_with_pairs
from trainlog.models import Athlete, Sensor
from trainlog.web.log_filter import day
from trainlog.web.page import UNPROCESSABLE, accept_or_explain, athlete_of, show, whole_number

NOTHING_NEW = 204
"""The list stays as it is, so that it is not read out again every two seconds."""

NAMES = {
    ReportFile.Kind.HTML.value: "Page",
    ReportFile.Kind.PDF.value: "PDF",
    ReportFile.Kind.ZIP.value: "ZIP",
}
"""What each form is called on the page, in its order there."""


class ReportForm(forms.Form):
    """What a report is to be about."""

    sensors = forms.ModelMultipleChoiceField(
        queryset=Sensor.objects.none(),
        widget=forms.CheckboxSelectMultiple,
        label="About",
        error_messages={"required": "Choose at least one sensor."},
    )
    first_day = day("From")
    last_day = day("Until")
    anonymised = forms.BooleanField(
        required=False,
        label="Leave out names, days and places",
        help_text="Sensors become A, B and so on; sessions are numbered.",
    )

    def __init__(self, athlete: Athlete, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["sensors"].queryset = sensors_with_pairs(athlete)  # type: ignore[attr-defined]


@require_http_methods(["GET", "POST"])
def reports(request: HttpRequest) -> HttpResponse:
    """Show the reports with their state, and take the wish for another; by htmx the list alone."""
    athlete = athlete_of(request)
    if request.method == "GET" and request.htmx:  # type: ignore[attr-defined]
        listed = _listed(athlete)
        if request.GET.get("seen") == listed["now"]:
            return HttpResponse(status=NOTHING_NEW)
        return show(request, "accuracy/_reports.html", listed)
    posted = request.POST if request.method == "POST" else None
    form = ReportForm(athlete, posted, initial=_chosen(request, athlete))
    if posted is not None and accept_or_explain(form, lambda: ask_for_report(athlete, **form.cleaned_data)):
        return redirect("reports")
    context = {"form": form, **_listed(athlete)}
    return show(
        request, "accuracy/reports.html", context, status=UNPROCESSABLE if posted is not None else 200
    )


@require_POST
def delete(request: HttpRequest, pk: int) -> HttpResponse:
    """Delete a report with its files."""
    delete_report(get_object_or_404(Report.objects.of(athlete_of(request)), pk=pk))
    messages.success(request, "The report is deleted.")
    return redirect("reports")


@require_safe
def report_file(request: HttpRequest, pk: int, kind: str) -> HttpResponse:
    """Hand out one form of a report."""
    files = ReportFile.objects.of(athlete_of(request)).filter(report__state=Report.State.MADE)
    return as_download(get_object_or_404(files, report=pk, kind=kind))


def _listed(athlete: Athlete) -> dict[str, Any]:
    """Reports with their files, whether one is still being made, and what changes when any of that does."""
    found = reports_of(athlete)
    rows = []
    for report in found:
        files = {file.kind: file for file in report.files.all()}
        taken = [(NAMES[kind], f"report_{kind}", files[kind].byte_count) for kind in NAMES if kind in files]
        rows.append((report, taken))
    now = "-".join(f"{report.pk}{report.state}{report.attempts}" for report in found)
    waiting = any(report.state == Report.State.WAITING for report in found)
    return {"reports": rows, "waiting": waiting, "now": now}


def _chosen(request: HttpRequest, athlete: Athlete) -> dict[str, Any]:
    """What is ticked at first: the sensor whose page led here, or the only one."""
    offered = list(sensors_with_pairs(athlete).values_list("pk", flat=True))
    asked = whole_number(request.GET.get("sensor", ""))
    chosen = [asked] if asked in offered else offered if len(offered) == 1 else []
    return {"sensors": chosen, "anonymised": True}
