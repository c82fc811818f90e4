"""The months of the log, and the totals of its years."""

from __future__ import annotations

from datetime import date

from django.http import Http404, HttpRequest, HttpResponse
from django.views.decorators.http import require_safe

from trainlog.models import Basis, Measure
from trainlog.services.calendar import month_of
from trainlog.services.years import years_of
from trainlog.web.page import athlete_of, show, whole_number

FIRST_MONTH, LAST_MONTH = date(1970, 2, 1), date(2999, 11, 1)


@require_safe
def calendar(request: HttpRequest, month: date | None = None) -> HttpResponse:
    """Show a month day by day; this month without one."""
    athlete = athlete_of(request)
    today = athlete.today()
    if month is not None and not FIRST_MONTH <= month <= LAST_MONTH:
        raise Http404("no such month")
    found = month_of(athlete, month or today, today)
    return show(
        request,
        "calendar.html",
        {
            "month": found,
            "today": today,
            "measure": Measure(found.measure).label,
            "highest": 1.02 * found.highest,
            "highest_week": 1.02 * found.highest_week,
        },
    )


@require_safe
def years(request: HttpRequest) -> HttpResponse:
    """Show the totals of every year, and the months of one."""
    athlete = athlete_of(request)
    today = athlete.today()
    asked = request.GET.get("year", "")
    year = whole_number(asked, LAST_MONTH.year)
    if asked and (year is None or year < FIRST_MONTH.year):
        raise Http404("no such year")
    found = years_of(athlete, today, year)
    if year and not found.months:
        raise Http404("nothing is logged in this year")
    return show(
        request,
        "years.html",
        {
            "found": found,
            "today": today,
            "bases": Basis.choices,
            "measure": Measure(found.measure).label,
            "chosen": found.months[0].first.year if found.months else None,
            "without_load": sum(span.without_load for span in found.years),
            "highest": 1.02 * max((span.load.high for span in found.years if span.load), default=1.0),
            "highest_month": 1.02 * max((span.load.high for span in found.months if span.load), default=1.0),
        },
    )
