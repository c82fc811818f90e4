"""Stays in other time zones: adding, changing and deleting one."""

from __future__ import annotations

import zoneinfo
from typing import ClassVar

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from trainlog.models import Stay
from trainlog.services.stays import delete_stay, save_stay, stays_of
from trainlog.web.deleted import say_deleted
from trainlog.web.page import accept_or_explain, athlete_of, show
from trainlog.web.seen import SeenMixin, one_at_a_time


class StayForm(SeenMixin, forms.ModelForm):
    """Where, and from when until when."""

    class Meta:
        model = Stay
        fields = ("time_zone", "first_day", "last_day")
        widgets: ClassVar = {
            "time_zone": forms.TextInput(attrs={"list": "time-zones", "autocomplete": "off"}),
            "first_day": forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
            "last_day": forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        }
        labels: ClassVar = {"first_day": "First day there", "last_day": "Last day there"}
        help_texts: ClassVar = {"time_zone": "for example Asia/Tokyo"}

    def clean(self) -> None:
        """Leave the table's constraints to the service: it explains them in words."""


@require_safe
def stays(request: HttpRequest) -> HttpResponse:
    """List the stays."""
    return show(request, "stays.html", {"stays": stays_of(athlete_of(request))})


@require_http_methods(["GET", "POST"])
def add_stay(request: HttpRequest) -> HttpResponse:
    """Note a stay."""
    return _page(request, None)


@require_http_methods(["GET", "POST"])
@one_at_a_time
def stay(request: HttpRequest, pk: int) -> HttpResponse:
    """Change a stay."""
    return _page(request, get_object_or_404(Stay.objects.of(athlete_of(request)), pk=pk))


@require_POST
def delete(request: HttpRequest, pk: int) -> HttpResponse:
    """Delete a stay."""
    found = get_object_or_404(Stay.objects.of(athlete_of(request)).select_related("owner"), pk=pk)
    say_deleted(request, delete_stay(found), "Workouts of these days count by the clock at home.")
    return redirect("stays")


def _page(request: HttpRequest, row: Stay | None) -> HttpResponse:
    athlete = athlete_of(request)
    form = StayForm(request.POST if request.method == "POST" else None, instance=row)
    if form.is_bound and accept_or_explain(form, lambda: save_stay(athlete, form.instance)):
        messages.success(request, "Saved. Workouts of these days count by the clock there.")
        return redirect("stays")
    context = {"form": form, "row": row, "zones": sorted(zoneinfo.available_timezones())}
    return show(request, "stay.html", context, status=form.status)
