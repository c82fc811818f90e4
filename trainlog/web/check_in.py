"""The morning check-in: a short form, and the mornings before it."""

from __future__ import annotations

from datetime import date
from typing import Any

import numpy as np
from django import forms
from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from trainlog.charts.mornings import mornings
from trainlog.models import CheckIn
from trainlog.models.check_in import HIGHEST_MARK, ITEMS, LOWEST_MARK, RANGES
from trainlog.services.care import care_of
from trainlog.services.check_in import (
    Course,
    Mornings,
    check_in_of,
    delete_check_in,
    last_mornings,
    save_check_in,
)
from trainlog.services.odd_readings import odd_rates
from trainlog.services.offers import resting_offer
from trainlog.services.recovery import recovery_now, untold_lately
from trainlog.services.rr_file import LARGEST_BYTES
from trainlog.web.deleted import say_deleted
from trainlog.web.forms import LONGEST_NOTE
from trainlog.web.page import CONFLICT, accept_or_explain, athlete_of, show
from trainlog.web.seen import SEEN, SeenMixin, one_at_a_time

TABLE_ROWS = 14
"""Mornings of the table that are open at once."""

LEAST_DRAWN = 2
"""Mornings with a value that make a drawing worth its place."""

GOOD_TO_BAD = ("very, very good", "very, very bad")
LOW_TO_HIGH = ("very, very low", "very, very high")
MARKS = [*((str(mark), str(mark)) for mark in range(LOWEST_MARK, HIGHEST_MARK + 1)), ("", "leave out")]


def figure(name: str, label: str, **attributes: str) -> forms.FloatField:
    """Field for one of the figures, with the keys of a phone's number pad."""
    lowest, highest, _ = RANGES[name]
    attributes |= {"min": f"{lowest:g}", "max": f"{highest:g}", "autocomplete": "off"}
    return forms.FloatField(label=label, required=False, widget=forms.NumberInput(attrs=attributes))


def mark(label: str) -> forms.TypedChoiceField:
    """Field for one mark from 1 to 7."""
    return forms.TypedChoiceField(
        label=label,
        choices=MARKS,
        required=False,
        coerce=int,
        empty_value=None,
        widget=forms.RadioSelect,
    )


class CheckInForm(SeenMixin, forms.Form):
    """One morning; everything but the day may be left out."""

    not_there = ("day", "rr_file")

    resting_rate = figure("resting_rate", "Resting rate, bpm", inputmode="decimal", step="any")
    rmssd = figure("rmssd", "Your rMSSD, ms", inputmode="decimal", step="any")
    sleep_hours = figure("sleep_hours", "Slept, hours", inputmode="decimal", step="any")
    sleep_quality = mark("How was your sleep?")
    fatigue = mark("How tired are you?")
    stress = mark("How stressed are you?")
    soreness = mark("How sore are your muscles?")
    note = forms.CharField(
        label="Note", required=False, max_length=LONGEST_NOTE, widget=forms.Textarea(attrs={"rows": 2})
    )
    rr_file = forms.FileField(
        label="or a file of RR intervals",
        required=False,
        allow_empty_file=True,
        widget=forms.FileInput,
        help_text="One to ten minutes at rest: an interval in each line, or a recording that holds them. "
        "rMSSD is worked out from it; the file is not kept.",
    )
    day = forms.DateField(
        label="Morning of", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )

    @property
    def marks(self) -> list[tuple[forms.BoundField, tuple[str, str]]]:
        """Fields of the marks, each with the words at its ends."""
        return [(self[name], GOOD_TO_BAD if name == "sleep_quality" else LOW_TO_HIGH) for name in ITEMS]


@require_http_methods(["GET", "POST"])
@one_at_a_time
def check_in(request: HttpRequest) -> HttpResponse:
    """Show the form of a morning, today's if none is named, and the last mornings; keep what is noted."""
    athlete = athlete_of(request)
    today = athlete.today()
    posted = request.POST if request.method == "POST" else None
    day = _day_meant(posted, today) if posted is not None else _day(request.GET.get("day", ""), today)
    noted = check_in_of(athlete, day)
    form = CheckInForm(posted, request.FILES or None, initial=_initial(day, noted))

    def save() -> None:
        fields = dict(form.cleaned_data)
        day, upload = fields.pop("day"), fields.pop("rr_file")
        replaces = check_in_of(athlete, day) is not None
        kept = save_check_in(
            athlete, day, fields, rr_file=upload.read(LARGEST_BYTES + 1) if upload is not None else None
        )
        instead = ", in place of what was noted of it before" if replaces else ""
        found = f" {_file_in_words(kept)}" if upload is not None else ""
        messages.success(request, f"The morning of {day.day} {day:%B} is saved{instead}.{found}")

    if posted is not None and accept_or_explain(form, save):
        return redirect(reverse("check_in"))
    found = last_mornings(athlete, today)
    care = care_of(athlete)
    with_bands = not care.mornings_say_little
    context = {
        "noted": noted if posted is None else None,
        "folded": _noted_in_words(noted) if posted is None and noted and "day" not in request.GET else "",
        "odd_rates": odd_rates(athlete, today),
        "resting_offer": resting_offer(athlete, today),
        "from_file": _file_in_words(noted) if posted is None and noted and noted.rmssd_beats else "",
        "form": form,
        "today": today,
        "mornings": found,
        "ready": None if care.any else recovery_now(athlete),
        "untold": untold_lately(athlete),
        "recent": found.check_ins[:TABLE_ROWS],
        "older": found.check_ins[TABLE_ROWS:],
        "rmssd_chart": _chart("ln rMSSD", found, found.ln_rmssd, with_bands),
        "rate_chart": _chart("resting rate, bpm", found, found.resting_rate, with_bands),
    }
    return show(request, "check_in.html", context, status=form.status)


@require_http_methods(["GET", "POST"])
@one_at_a_time
def delete(request: HttpRequest, day: date) -> HttpResponse:
    """Ask first; then remove what is noted of a morning."""
    noted = check_in_of(athlete_of(request), day)
    if noted is None:
        raise Http404("nothing is noted of this morning")
    seen = CheckInForm(initial=_initial(day, noted)).seen
    changed = request.POST.get(SEEN, seen) != seen
    if request.method == "POST" and not changed:
        say_deleted(request, delete_check_in(noted))
        return redirect("check_in")
    context = {"noted": noted, "seen": seen, "changed": changed}
    return show(request, "delete_check_in.html", context, status=CONFLICT if changed else 200)


def _day_meant(posted: QueryDict, today: date) -> date:
    """Day that a posted form names; today where it names none, which the form then says."""
    try:
        return date.fromisoformat(posted.get("day", ""))
    except ValueError:
        return today


def _day(text: str, today: date) -> date:
    if not text:
        return today
    try:
        return date.fromisoformat(text)
    except ValueError as error:
        raise Http404("no such day") from error


def _initial(day: date, noted: CheckIn | None) -> dict[str, Any]:
    names = [name for name in CheckInForm.base_fields if name not in {"day", "rr_file"}]
    values = {name: getattr(noted, name) for name in names} if noted else {}
    # 62 and not 62.0, as it was typed.
    return {"day": day} | {
        name: f"{value:g}" if isinstance(value, float) else value for name, value in values.items()
    }


def _noted_in_words(noted: CheckIn) -> str:
    """What was noted of a morning, in a line."""
    figures = (
        ("resting_rate", "resting {:g} bpm"),
        ("rmssd", "rMSSD {:.0f} ms"),
        ("sleep_hours", "slept {:g} h"),
    )
    marks = (("sleep_quality", "sleep"), ("fatigue", "tired"), ("stress", "stressed"), ("soreness", "sore"))
    said = [*figures, *((name, f"{word} {{}} of {HIGHEST_MARK}") for name, word in marks)]
    found = [words.format(getattr(noted, name)) for name, words in said if getattr(noted, name) is not None]
    return ", ".join(found) or "a note"


def _file_in_words(kept: CheckIn) -> str:
    return (
        f"rMSSD is {kept.rmssd:.1f} ms, from {kept.rmssd_beats} beats of which "
        f"{100 * (kept.rmssd_corrected_share or 0):.1f}% had to be corrected."
    )


def _chart(title: str, found: Mornings, course: Course, with_band: bool) -> dict[str, Any] | None:
    if np.isfinite(course.values).sum() < LEAST_DRAWN:
        return None
    return mornings(title, found.days, course.values, course.weekly, course.band if with_band else None)
