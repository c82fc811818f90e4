"""The trend over days: its spans, its charts, its weeks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

import numpy as np
from django import forms
from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_http_methods, require_safe

from trainlog.charts.trend import loads, responses
from trainlog.load.impulse_response import FAST_DAYS, FAST_GAIN, SLOW_DAYS
from trainlog.load.trend import ACUTE_DAYS, CHRONIC_DAYS
from trainlog.load.trend_figures import WEEK_DAYS
from trainlog.models import Athlete, Physiology
from trainlog.sensible_days import EARLIEST_DAY, LATEST_DAY
from trainlog.services.block import block_of
from trainlog.services.lines import WEEK, first_day_of, monday_of
from trainlog.services.trend import TrendSpan, trend_between
from trainlog.services.trend_settings import LONGEST_SPAN, SHORTEST_SPAN, SPANS, set_spans
from trainlog.trace import FloatArray
from trainlog.web.page import UNPROCESSABLE, accept_or_explain, athlete_of, page_number, show
from trainlog.web.seen import SeenMixin, one_at_a_time
from trainlog.web.trend_table import Figure, drawn_rows
from trainlog.web.week import axis_ticks

SPAN_WEEKS = {"6-weeks": 6, "3-months": 13, "1-year": 52}
"""Weeks up to this one of the spans that have a link."""

ALL = "all"
CHOICES = (("6-weeks", "6 weeks"), ("3-months", "3 months"), ("1-year", "1 year"), (ALL, "all"))
FIRST_CHOICE = "3-months"

LONGEST_DAILY = 26 * WEEK_DAYS
"""Days up to which each has a bar of its own; of a longer span each week has one."""

ROWS_A_PAGE = 26


class DaysForm(forms.Form):
    """First and last day of a span."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        # "from" is no name that a class body can give.
        for name, label in (("from", "From"), ("to", "Until")):
            self.fields[name] = forms.DateField(
                label=label, widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
            )

    def clean(self) -> dict[str, Any]:
        """Refuse days in the wrong order, and days that no log reaches."""
        first, last = self.cleaned_data.get("from"), self.cleaned_data.get("to")
        if first and last and first > last:
            raise ValidationError({"to": "The last day must not be before the first."})
        for name, day in (("from", first), ("to", last)):
            if day and not EARLIEST_DAY <= day <= LATEST_DAY:
                raise ValidationError({name: f"Choose a day from {EARLIEST_DAY.year} to {LATEST_DAY.year}."})
        return self.cleaned_data


class SpansForm(SeenMixin, forms.Form):
    """Days of the averages and responses."""

    acute_days = forms.IntegerField(label="Acute load, days")
    chronic_days = forms.IntegerField(label="Chronic load, days")
    fast_days = forms.IntegerField(label="Fast response, days")
    slow_days = forms.IntegerField(label="Slow response, days")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for field in self.fields.values():
            field.widget.attrs |= {"min": SHORTEST_SPAN, "max": LONGEST_SPAN, "inputmode": "numeric"}


@dataclass(frozen=True)
class WeekRow:
    """One week of the table, up to its last day in the span."""

    monday: date
    running: bool
    load: Figure
    hours: float
    confidence: str
    monotony: Figure
    strain: Figure
    acute: Figure
    chronic: Figure
    unknown: int


@dataclass(frozen=True)
class Wanted:
    """The span that a request asks for."""

    first: date
    last: date
    choice: str
    form: DaysForm


@require_safe
def trend(request: HttpRequest) -> HttpResponse:
    """Show the trend over a span of days."""
    return _page(request)


@require_http_methods(["POST"])
@one_at_a_time
def spans(request: HttpRequest) -> HttpResponse:
    """Keep the days of the averages and responses, or put the usual ones back."""
    athlete = athlete_of(request)
    usual = "usual" in request.POST
    posted = dict(zip(SPANS, _usual(), strict=True)) if usual else request.POST
    form = SpansForm(posted, initial=_spans_of(athlete))
    if accept_or_explain(form, lambda: set_spans(athlete, *(form.cleaned_data[name] for name in SPANS))):
        messages.success(request, "Saved. The trend is being worked out anew.")
        return redirect("trend")
    return _page(request, spans_form=form)


def _spans_of(athlete: Athlete) -> dict[str, int]:
    return {name: getattr(athlete, name) for name in SPANS}


def _usual() -> tuple[int, ...]:
    return tuple(round(days) for days in (ACUTE_DAYS, CHRONIC_DAYS, SLOW_DAYS, FAST_DAYS))


def _page(request: HttpRequest, spans_form: SpansForm | None = None) -> HttpResponse:
    athlete = athlete_of(request)
    today, log_begins = athlete.today(), first_day_of(athlete)
    wanted = _wanted(request, today, log_begins)
    page = page_number(request)
    found = trend_between(athlete, wanted.first, wanted.last)
    span = block_of(athlete, wanted.first, wanted.last, found.weeks)
    rows = week_rows(found, page, today)
    highest = 1.02 * max((row.load.high for row in rows), default=1.0) or 1.0
    query = request.GET.copy()
    query.pop("page", None)
    return show(
        request,
        "trend.html",
        {
            "wanted": wanted,
            "choices": CHOICES,
            "spans_form": spans_form or SpansForm(initial=_spans_of(athlete)),
            "spans_refused": spans_form is not None,
            "days_form": wanted.form,
            "athlete": athlete,
            "today": today,
            "span": span,
            "trend": found,
            "unknown": len(found.unknown),
            "young": _days_until_settled(athlete, log_begins, today),
            "has_physiology": Physiology.objects.of(athlete).exists(),
            "weekly": len(found.days) > LONGEST_DAILY,
            "fast_gain": FAST_GAIN,
            "rows": rows,
            "highest": highest,
            "ticks": axis_ticks(highest),
            "latest": latest(found),
            "query": query.urlencode(),
            "newer": page - 1 if page else None,
            "older": page + 1 if len(found.days) > (page + 1) * ROWS_A_PAGE * WEEK_DAYS else None,
            **charts(found),
        },
        status=spans_form.status if spans_form else UNPROCESSABLE if wanted.form.errors else 200,
    )


def _wanted(request: HttpRequest, today: date, log_begins: date | None) -> Wanted:
    typed = bool(request.GET.get("from") or request.GET.get("to"))
    choice = request.GET.get("span", "" if typed else FIRST_CHOICE)
    if choice and choice not in dict(CHOICES):
        raise Http404("no such span")
    bound = DaysForm(request.GET) if typed else None
    if bound is not None and bound.is_valid():
        return Wanted(bound.cleaned_data["from"], bound.cleaned_data["to"], "", bound)
    sunday = monday_of(today) + WEEK - timedelta(days=1)
    if choice == ALL:
        first = min(log_begins or today, today)
    else:
        first = monday_of(today) - (SPAN_WEEKS[choice or FIRST_CHOICE] - 1) * WEEK
    form = DaysForm(initial={"from": first, "to": min(sunday, today)}) if bound is None else bound
    return Wanted(first, sunday, choice, form)


def _days_until_settled(athlete: Athlete, log_begins: date | None, today: date) -> int | None:
    """Days that a young log still has to go until its averages lean little on its first day."""
    if log_begins is None:
        return None
    left = int(athlete.chronic_days) - (today - log_begins).days
    return left if left > 0 else None


def latest(found: TrendSpan) -> dict[str, Figure]:
    """Averages on the span's last day, weighted and plain, and their ratio; nothing without days."""
    if not found.days:
        return {}
    names = ("acute", "acute_window", "chronic", "chronic_window", "ratio")
    return {name: Figure(*(float(value) for value in found.on(-1, name))) for name in names}


def week_ends(found: TrendSpan) -> list[int]:
    """Places of the last day of each week in the span, oldest first."""
    last = len(found.days) - 1
    return [place for place, day in enumerate(found.days) if day.weekday() == 6 or place == last]


def week_rows(found: TrendSpan, page: int, today: date) -> list[WeekRow]:
    """Weeks of one page of the table, newest first."""
    places = week_ends(found)[::-1][page * ROWS_A_PAGE : (page + 1) * ROWS_A_PAGE]
    return [_row(found, place, today) for place in places]


def _row(found: TrendSpan, place: int, today: date) -> WeekRow:
    day = found.days[place]
    monday = monday_of(day)
    held = found.held(monday)
    figure = {
        name: Figure(*(float(value) for value in found.on(place, name)))
        for name in ("week", "monotony", "strain", "acute", "chronic")
    }
    return WeekRow(
        monday=monday,
        running=monday <= today < monday + WEEK and day.weekday() < 6,
        load=figure["week"],
        hours=held.hours,
        confidence=held.confidence,
        monotony=figure["monotony"],
        strain=figure["strain"],
        acute=figure["acute"],
        chronic=figure["chronic"],
        unknown=sum(monday <= marked < monday + WEEK for marked in found.unknown),
    )


def charts(found: TrendSpan) -> dict[str, Any]:
    """Specs of the two charts, and the rows of what they show; none for a span without days."""
    if not found.days:
        return {}
    weekly = len(found.days) > LONGEST_DAILY
    over = WEEK_DAYS if weekly else 1
    places = week_ends(found) if weekly else list(range(len(found.days)))
    days = [monday_of(found.days[place]) if weekly else found.days[place] for place in places]
    totals = found.of("week" if weekly else "load")[places]
    gone = _days_gone(found, places)[:, None] if weekly else 1
    lines = {name: found.of(name)[places] for name in ("acute", "chronic", "slow", "fast", "net_response")}
    lines["fast"] = FAST_GAIN * lines["fast"]
    bars = {"load": totals / gone} | ({"total": totals} if weekly else {})
    return {
        "loads_chart": loads(
            str(found.measure.label),
            days,
            bars,
            {name: lines[name] for name in ("acute", "chronic")},
            over=over,
        ),
        "responses_chart": responses(
            days, {name: lines[name] for name in ("slow", "fast", "net_response")}, over=over
        ),
        "drawn": drawn_rows(
            days,
            {"load": bars["load"]} | {name: lines[name] for name in ("acute", "chronic", "slow", "fast")},
        ),
    }


def _days_gone(found: TrendSpan, places: Sequence[int]) -> FloatArray:
    """Days of its week up to each place, that day counted."""
    return np.array([found.days[place].weekday() + 1.0 for place in places])
