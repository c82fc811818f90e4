"""One week: what it held, and what each load rests on."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date, timedelta

from django import forms
from django.http import Http404, HttpRequest, HttpResponse
from django.views.decorators.http import require_safe

from trainlog.models import Physiology
from trainlog.sensible_days import EARLIEST_DAY, LATEST_DAY
from trainlog.services.lift_sets import sums_between
from trainlog.services.plan import PlannedLine, PlanOfWeek
from trainlog.services.week import Day, Week, week_of
from trainlog.web.page import UNPROCESSABLE, athlete_of, show
from trainlog.web.plan import plan_context


class UnknownDaysForm(forms.Form):
    """Days that are not known."""

    first_day = forms.DateField(
        label="From", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )
    last_day = forms.DateField(
        label="Until", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )
    note = forms.CharField(label="Note, if you like", required=False, max_length=400)

    @property
    def week(self) -> date | None:
        """A day of the week on whose page the form stands; None where none can be made out."""
        day: date | None = self.cleaned_data.get("first_day")
        return day if day and EARLIEST_DAY <= day <= LATEST_DAY else None


@dataclass(frozen=True)
class Tick:
    """A labelled place on the axis of loads, in per cent of its width."""

    at: float
    label: str
    anchor: str


@require_safe
def week(request: HttpRequest, day: date | None = None) -> HttpResponse:
    """Show the week in which a day lies; this week without one."""
    return week_page(request, day)


def week_page(
    request: HttpRequest, day: date | None, *, refused: UnknownDaysForm | None = None
) -> HttpResponse:
    """Page of a week, with the form that came back with an explanation if one did."""
    athlete = athlete_of(request)
    today = athlete.today()
    if day is not None and not EARLIEST_DAY <= day <= LATEST_DAY:
        raise Http404("no such week")
    found = week_of(athlete, day or today, today)
    highest = highest_load(found)
    context = plan_context(athlete, found.monday, today)
    return show(
        request,
        "week.html",
        {
            "week": found,
            "today": today,
            "days_gone": (today - found.monday).days + 1 if found.monday <= today <= found.sunday else None,
            "ahead": found.monday > today,
            "has_physiology": Physiology.objects.of(athlete).exists(),
            "lifted": sums_between(athlete, found.monday, found.sunday),
            "highest": highest,
            "ticks": axis_ticks(highest),
            "strip": _strip(found, context["plan"], today),
            **context,
            "unknown_form": refused or _unknown_form(found, today),
        },
        status=UNPROCESSABLE if refused else 200,
    )


def _strip(week: Week, plan: PlanOfWeek, today: date) -> list[tuple[Day, list[PlannedLine]]]:
    """Each day with what is planned for it and still to be done."""
    meant = {day.date: [line for line in day.lines if line.part is None] for day in plan.days}
    return [(day, meant.get(day.date, []) if day.date >= today else []) for day in week.days]


def _unknown_form(week: Week, today: date) -> UnknownDaysForm:
    """Form for the days of a week that are over."""
    last = min(week.sunday, max(today - timedelta(days=1), week.monday))
    return UnknownDaysForm(initial={"first_day": week.monday, "last_day": last})


def highest_load(week: Week) -> float:
    """Load at the right end of the week's drawings: a little beyond the highest upper bound."""
    bounds = [day.total.high for day in week.days if day.total]
    bounds += [line.estimate.high for day in week.days for line in day.lines if line.estimate]
    return 1.02 * max(bounds, default=1.0) or 1.0


def axis_ticks(highest: float) -> list[Tick]:
    """Round loads along the axis, about four of them, none too near the right end for its label."""
    rough = highest / 4
    power = 10.0 ** math.floor(math.log10(rough)) if rough > 0 else 1.0
    step = next(power * nice for nice in (1, 2, 5, 10) if power * nice >= rough)
    count = int(highest * 0.97 / step)
    return [
        Tick(round(100 * number * step / highest, 2), f"{number * step:g}", "middle" if number else "start")
        for number in range(count + 1)
    ]
