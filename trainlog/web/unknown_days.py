"""Marking days as not known, and taking a mark back."""

from __future__ import annotations

from datetime import date

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_POST

from trainlog.services.unknown_days import mark_unknown, unmark
from trainlog.web.deleted import say_deleted
from trainlog.web.page import accept_or_explain, athlete_of
from trainlog.web.week import UnknownDaysForm, week_page


@require_POST
def mark(request: HttpRequest) -> HttpResponse:
    """Mark a range of days."""
    athlete = athlete_of(request)
    form = UnknownDaysForm(request.POST)

    def save() -> None:
        data = form.cleaned_data
        marked = mark_unknown(athlete, data["first_day"], data["last_day"], data["note"])
        days = "1 day is" if len(marked) == 1 else f"{len(marked)} days are"
        messages.success(request, f"{days} marked as not known.")

    if accept_or_explain(form, save):
        return redirect("week", form.cleaned_data["first_day"])
    return week_page(request, form.week, refused=form)


@require_POST
def take_back(request: HttpRequest, day: date) -> HttpResponse:
    """Take the mark of one day back."""
    deletion = unmark(athlete_of(request), day)
    if deletion:
        say_deleted(request, deletion)
    return redirect("week", day)
