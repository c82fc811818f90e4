"""Keeping the trend: written week by week with the estimates it is made from, and only from a change on."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
from django.db import transaction
from numpy.typing import NDArray

from trainlog.load.draws import DRAWS, athlete_seed, stratified_uniforms, unpack
from trainlog.load.trend import TrendDays, TrendState, trend
from trainlog.load.trend_figures import FIGURES, WEEK_DAYS, days_needed, week_figures
from trainlog.load.unknown_days import with_unknown_drawn
from trainlog.models import Athlete, LoadEstimate, Measure, Part, TrendWeek, UnknownDay
from trainlog.services.held import Held, held_in, nothing
from trainlog.services.lines import WEEK, PartLine, lines_between, monday_of
from trainlog.services.trend_bytes import day_hash, state_bytes, state_of, week_bytes
from trainlog.trace import FloatArray

FURTHEST_UNKNOWN = timedelta(days=366)
"""Days after the last workout beyond which a marked day no longer prolongs the trend."""

ROWS_AT_ONCE = 100

ONE_DAY = timedelta(days=1)


@dataclass(frozen=True, eq=False)
class LoggedDays:
    """Every day of a log in one measure, from the first workout's on.

    Attributes
    ----------
    first : date
        Local day of the first workout.
    daily : array, shape (days, DRAWS)
        Load of each day, rest as 0, unknown days drawn. The last day is a Sunday.
    unknown : array of bool, shape (days,)
        Days that were drawn.
    described : sequence of str, one for each day
        What is kept of the day's parts beside their draws.
    """

    first: date
    daily: FloatArray
    unknown: NDArray[np.bool_]
    described: Sequence[str]

    def place(self, day: date) -> int:
        """Place of a day; negative before the log."""
        return (day - self.first).days

    @property
    def mondays(self) -> list[date]:
        """Weeks of the log, oldest first."""
        start = monday_of(self.first)
        weeks = (len(self.daily) - self.place(start)) // WEEK_DAYS
        return [start + number * WEEK for number in range(weeks)]


def spans_of(athlete: Athlete) -> TrendDays:
    """The athlete's own spans and time constants, in days."""
    return TrendDays(
        float(athlete.acute_days),
        float(athlete.chronic_days),
        float(athlete.slow_days),
        float(athlete.fast_days),
    )


def keep_trend(athlete: Athlete, source: str) -> None:
    """Bring the kept trend of every measure up to date with the estimates of one source.

    Weeks before the first day that is not what it was stay as they are; the later ones are computed on
    from the state before them and written anew, in one short transaction for each measure. Calling it
    again changes nothing.

    A day counts with the sum of its parts, draw by draw. It is drawn from the days before it (see
    ``load.unknown_days``) where the athlete marked it unknown, and also where one of its parts has no
    estimate in the measure: a session took place, so the day is no rest, and how much it was is not known.

    Parameters
    ----------
    athlete : Athlete
    source : str
        Version of the estimates to go by, which need not be the one on show.
    """
    estimates = LoadEstimate.objects.of(athlete).filter(source=source)
    there = set(estimates.order_by().values_list("measure", flat=True).distinct())
    TrendWeek.objects.of(athlete).filter(source=source).exclude(measure__in=there).delete()
    for measure in sorted(there):
        _keep(athlete, Measure(measure), source)


def forget_other_trends(athlete: Athlete, source: str) -> None:
    """Remove kept weeks of every source but the one that is now on show."""
    TrendWeek.objects.of(athlete).exclude(source=source).delete()


def logged_days(athlete: Athlete, measure: str, source: str) -> LoggedDays | None:
    """Every day of a log with its load; None for a log without a workout."""
    parts = list(
        Part.objects.of(athlete)
        .order_by("start", "end", "activity__slug")
        .values_list("pk", "workout__day", "start", "end", "session_rpe", "activity__family")
    )
    if not parts:
        return None
    estimates = {
        key: (f"{basis} {confidence}", unpack(stored))
        for key, basis, confidence, stored in LoadEstimate.objects.of(athlete)
        .filter(measure=measure, source=source)
        .values_list("part_id", "basis", "confidence", "all_draws")
    }
    first = min(day for _, day, *_ in parts)
    last = max(day for _, day, *_ in parts)
    marked = set(
        UnknownDay.objects.of(athlete)
        .filter(day__range=(first, last + FURTHEST_UNKNOWN))
        .values_list("day", flat=True)
    )
    # So many weeks more than were trained in that after them every window holds rest for good.
    rest_weeks = math.ceil(days_needed(spans_of(athlete)) / WEEK_DAYS)
    end = monday_of(max({last, *marked})) + (1 + rest_weeks) * WEEK
    days = (end - first).days
    logged = np.zeros((days, DRAWS))
    unknown = np.zeros(days, bool)
    unknown[[(day - first).days for day in marked]] = True
    described = [""] * days
    for key, day, start, stop, rating, family in parts:
        place = (day - first).days
        rests_on, load = estimates.get(key, ("no estimate", None))
        described[place] += f"{family} {stop - start} {rating} {rests_on};"
        if load is None:
            unknown[place] = True
        else:
            logged[place] += load

    def uniforms(place: int) -> FloatArray:
        day = first + timedelta(days=place)
        return stratified_uniforms(athlete_seed(athlete.seed, f"unknown day/{day.isoformat()}"))

    return LoggedDays(first, with_unknown_drawn(logged, unknown, uniforms), unknown, described)


def _keep(athlete: Athlete, measure: Measure, source: str) -> None:
    rows = TrendWeek.objects.of(athlete).filter(measure=measure, source=source)
    found = logged_days(athlete, measure, source)
    if found is None:
        rows.delete()
        return
    spans, mondays = spans_of(athlete), found.mondays
    inputs = {monday: _inputs(found, monday, spans) for monday in mondays}
    kept = {monday: bytes(stored) for monday, stored in rows.values_list("monday", "inputs")}
    changed = [monday for monday in mondays if kept.get(monday) != inputs[monday]]
    if not changed and len(kept) == len(mondays):
        return
    # Weeks that no longer belong lie before the first or after the last of those that do.
    begin = changed[0] if changed else mondays[-1] + WEEK
    state = None
    if mondays[0] < begin <= mondays[-1]:
        state = state_of(rows.values_list("state", flat=True).get(monday=begin - WEEK))
    written = [
        TrendWeek(
            owner=athlete,
            measure=measure,
            source=source,
            monday=monday,
            inputs=inputs[monday],
            figures=week_bytes(figures, held),
            state=state_bytes(after),
        )
        for monday, figures, held, after in _weeks(athlete, measure, source, found, begin, state)
    ]
    with transaction.atomic():
        rows.filter(monday__gte=begin).delete()
        rows.filter(monday__lt=mondays[0]).delete()
        TrendWeek.objects.bulk_create(written, batch_size=ROWS_AT_ONCE)


def _inputs(found: LoggedDays, monday: date, spans: TrendDays) -> bytes:
    """Hashes of the seven days of a week, one after the other."""
    hashes = []
    for place in range(found.place(monday), found.place(monday) + WEEK_DAYS):
        if place < 0:
            hashes.append(day_hash(spans, "before the log", np.zeros(0), ""))
            continue
        mark = f"{'first' if place == 0 else ''} {'unknown' if found.unknown[place] else ''}"
        hashes.append(day_hash(spans, mark, found.daily[place], found.described[place]))
    return b"".join(hashes)


def _weeks(
    athlete: Athlete,
    measure: Measure,
    source: str,
    found: LoggedDays,
    begin: date,
    state: TrendState | None,
) -> Iterable[tuple[date, FloatArray, Held, TrendState]]:
    """Figures, what was held and state after it of each week from one on."""
    spans = spans_of(athlete)
    last = found.first + timedelta(days=len(found.daily)) - ONE_DAY
    by_week: dict[date, list[PartLine]] = {}
    for line in lines_between(athlete, begin, last, measure, source):
        by_week.setdefault(monday_of(line.part.workout.day), []).append(line)
    for monday in found.mondays:
        if monday < begin:
            continue
        place = found.place(monday)
        start, stop = max(place, 0), place + WEEK_DAYS
        course = trend(found.daily[start:stop], spans, state)
        state = course.after(-1)
        figures = np.full((WEEK_DAYS, len(FIGURES), 3), np.nan)
        before = max(start - days_needed(spans) + 1, 0)
        figures[start - place :] = week_figures(found.daily[before:stop], course, spans)
        yield monday, figures, held_in(by_week[monday]) if monday in by_week else nothing(), state
