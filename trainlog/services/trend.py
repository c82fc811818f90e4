"""Reading the kept trend of any span of days."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

from trainlog.load.draws import DRAWS
from trainlog.load.trend import trend
from trainlog.load.trend_figures import FIGURES, WEEK_DAYS, days_needed, week_figures
from trainlog.models import Athlete, Measure, TrendWeek, UnknownDay
from trainlog.services.held import Held, nothing
from trainlog.services.lines import WEEK, monday_of
from trainlog.services.trend_bytes import held_in_weeks, state_of, weeks_of
from trainlog.services.trend_store import spans_of
from trainlog.trace import FloatArray

SUNDAY = timedelta(days=6)


@dataclass(frozen=True, eq=False)
class TrendSpan:
    """Figures of a span of days.

    Attributes
    ----------
    measure : Measure
        Measure of load.
    days : sequence of date
        Each day from the first asked for, or the log's first, to the last; empty where no trend is kept.
    figures : array, shape (days, figures, 3)
        Low, median and high of each of ``FIGURES`` at the end of each day, in the unit of the measure;
        NaN where there is none.
    unknown : sequence of date
        Days of the span that the athlete marked unknown, whose load is drawn.
    weeks : mapping
        Each kept week that lies wholly or partly in the span, by its Monday.
    """

    measure: Measure
    days: Sequence[date]
    figures: FloatArray
    unknown: Sequence[date]
    weeks: dict[date, NDArray[np.void]]

    def of(self, name: str) -> FloatArray:
        """Low, median and high of one figure, shape (days, 3)."""
        return self.figures[:, FIGURES.index(name)]

    def held(self, monday: date) -> Held:
        """What a week held; nothing where none is kept."""
        return held_in_weeks(self.weeks[monday]) if monday in self.weeks else nothing()

    def on(self, place: int, name: str) -> FloatArray:
        """Low, median and high of one figure on one day, shape (3,)."""
        figure: FloatArray = self.figures[place, FIGURES.index(name)]
        return figure


def trend_between(athlete: Athlete, first: date, last: date, measure: str | None = None) -> TrendSpan:
    """The trend on each day of a span.

    Parameters
    ----------
    athlete : Athlete
    first, last : date
        Both included; days that are still to come are left out.
    measure : str, optional
        Measure of load; the one on show if left out.

    Returns
    -------
    TrendSpan
        What was kept with the estimates on show. Days after the last kept week are rest: averages and
        responses fade on from where they were.
    """
    wanted = Measure(measure or athlete.measure)
    last = min(last, athlete.today())
    rows = TrendWeek.objects.of(athlete).filter(measure=wanted, source=athlete.current_source)
    kept = list(
        rows.filter(monday__range=(monday_of(first), last))
        .order_by("monday")
        .values_list("monday", "figures")
    )
    newest = rows.order_by("-monday").values_list("monday", "state").first()
    marked = UnknownDay.objects.of(athlete).filter(day__range=(first, last)).order_by("day")
    unknown = list(marked.values_list("day", flat=True))
    days = [monday + timedelta(days=place) for monday, _ in kept for place in range(WEEK_DAYS)]
    weeks = weeks_of(stored for _, stored in kept)
    figures = [weeks["figures"].reshape(-1, *weeks["figures"].shape[2:]).astype(np.float64)]
    if newest and last > newest[0] + SUNDAY:
        rest_days, rest_figures = _rest(athlete, newest[0] + WEEK, bytes(newest[1]), first, last)
        days += rest_days
        figures.append(rest_figures)
    if not days:
        return TrendSpan(wanted, [], np.empty((0, len(FIGURES), 3)), [], {})
    joined = np.concatenate(figures)
    # Days of the first week before the log began have no figure at all.
    told = ~np.isnan(joined[:, 0, 1])
    inside = [place for place, day in enumerate(days) if told[place] and first <= day <= last]
    return TrendSpan(
        wanted,
        [days[place] for place in inside],
        joined[inside],
        unknown,
        {monday: weeks[[place]] for place, (monday, _) in enumerate(kept)},
    )


def _rest(
    athlete: Athlete, monday: date, state: bytes, first: date, last: date
) -> tuple[list[date], FloatArray]:
    """Days of rest from a Monday on, in whole weeks, from the week of the first day wanted."""
    weeks = (last - monday).days // WEEK_DAYS + 1
    now, spans = state_of(state), spans_of(athlete)
    days: list[date] = []
    figures = []
    for number in range(weeks):
        course = trend(np.zeros((WEEK_DAYS, DRAWS)), spans, now)
        now = course.after(-1)
        begins = monday + number * WEEK
        if begins + SUNDAY >= first:
            days += [begins + timedelta(days=place) for place in range(WEEK_DAYS)]
            # The kept weeks end with enough of rest that every window here holds nothing else.
            rest = np.zeros((days_needed(spans) - 1 + WEEK_DAYS, DRAWS))
            figures.append(week_figures(rest, course, spans))
    return days, np.concatenate(figures) if figures else np.empty((0, len(FIGURES), 3))
