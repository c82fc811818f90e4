"""The log: every workout on one line, newest first."""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cached_property
from itertools import groupby
from typing import Any

from django.conf import settings
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_safe

from trainlog.load.week import Total
from trainlog.models import Athlete, Basis, Confidence, LoadEstimate, Part, Physiology, Recording, Workout
from trainlog.services.deletions import deletions_of
from trainlog.services.find_workouts import find_workouts
from trainlog.services.first_steps import FEW_WORKOUTS, first_steps, pair_is_news
from trainlog.services.lines import PartLine, lines_of, monday_of, total_of
from trainlog.services.progress import waiting
from trainlog.services.tags import tags_by_workout
from trainlog.services.unknown_days import unknown_days_between
from trainlog.web.log_filter import LogFilter
from trainlog.web.page import UNPROCESSABLE, athlete_of, page_number, show
from trainlog.web.several import SeveralForm

WEEKS_A_PAGE = 6
FIRST_PAIR_TOLD = "first_pair_told_until"
"""In the session once the first pair was told of: until when the note stays."""

FOUND_WEEKS_A_PAGE = 20
"""Weeks on a page of workouts that were looked for: few of them hold many."""


@dataclass(frozen=True)
class WorkoutLine:
    """One workout as the log shows it."""

    workout: Workout
    lines: Sequence[PartLine]
    total: Total | LoadEstimate | None
    sensors: Sequence[str]
    tags: Sequence[str]

    @cached_property
    def what(self) -> str:
        """Activities of the parts in order, a repeated one once."""
        return " + ".join(name for name, _ in groupby(line.part.activity.name for line in self.lines))

    @cached_property
    def bases(self) -> list[tuple[str, str]]:
        """Bases of the parts, each once, with their words."""
        found = {line.estimate.basis for line in self.lines if line.estimate}
        return [(basis.value, basis.label) for basis in Basis if basis.value in found]

    @cached_property
    def basis(self) -> str:
        """The one basis of all parts, or that there are several."""
        return self.bases[0][0] if len(self.bases) == 1 else "mixed"

    @cached_property
    def reasons(self) -> list[tuple[str, str]]:
        """Activity of each part that has an estimate, and why that is what it is."""
        return [(line.part.activity.name, line.estimate.reason) for line in self.lines if line.estimate]

    @cached_property
    def confidence(self) -> str:
        """Confidence in the whole workout's load, by the sensor's doubt alone."""
        return Confidence.of(self.total.sensor_half_width).value if self.total else ""

    @cached_property
    def raw(self) -> float | None:
        """Load as the sensor had it, where every part has one and one of them was changed."""
        found = [line.estimate.raw for line in self.lines if line.estimate]
        changed = {basis for basis, _ in self.bases} & {Basis.CORRECTED, Basis.COMBINED}
        known = [value for value in found if value is not None]
        return sum(known) if changed and len(known) == len(self.lines) else None

    @cached_property
    def outdated(self) -> bool:
        """Whether an estimate of this workout is on its way."""
        return any(line.outdated for line in self.lines)


@dataclass(frozen=True)
class WeekLines:
    """One week of the log, newest day first."""

    monday: date
    workouts: Sequence[WorkoutLine]
    total: Total | None
    seconds: int
    unknown_days: int


@require_safe
def log(request: HttpRequest) -> HttpResponse:
    """Show a page of the weeks that hold a workout, newest first: of all, or of those looked for."""
    athlete = athlete_of(request)
    number = page_number(request)
    find = LogFilter(athlete, request.GET)
    if not find.is_valid():
        return show(request, "log.html", {"find": find, "misunderstood": True}, status=UNPROCESSABLE)
    found = find_workouts(athlete, find.wanted)
    a_page = FOUND_WEEKS_A_PAGE if find.wanted else WEEKS_A_PAGE
    mondays = list(found.dates("day", "week", order="DESC")[number * a_page : (number + 1) * a_page + 1])
    weeks = weeks_of(athlete, _within(found, mondays[:a_page]))
    workouts = [line for week in weeks for line in week.workouts]
    nothing_yet = number == 0 and not weeks and not find.wanted
    own = athlete.demo_for_id is None
    new = own and number == 0 and not find.wanted and len(workouts) <= FEW_WORKOUTS
    context: dict[str, Any] = {
        "find": find,
        "weeks": weeks,
        "highest": 1.02 * max((line.total.high for line in workouts if line.total), default=1.0),
        "outdated": sum(line.outdated for line in workouts),
        "newer": number - 1 if number else None,
        "older": number + 1 if len(mondays) > a_page else None,
        "nothing_yet": nothing_yet,
        "deleted_all": nothing_yet and deletions_of(athlete).exists(),
        "most_files": settings.MAX_FILES_AT_ONCE,
        "several": SeveralForm(athlete) if weeks else None,
        "has_physiology": Physiology.objects.of(athlete).exists(),
        "first": first_steps(athlete) if new else None,
        "own": own,
    }
    if find.wanted:
        context["found"] = found.count()
    elif number == 0:
        context |= waiting(athlete)
        context["first_pair"] = own and _may_tell_of_pair(request) and pair_is_news(athlete)
    return show(request, "log.html", context)


def _may_tell_of_pair(request: HttpRequest) -> bool:
    """Whether the first pair has not been told of in this session, or only just."""
    told_until = request.session.get(FIRST_PAIR_TOLD)
    return told_until is None or time.time() < told_until


def weeks_of(athlete: Athlete, workouts: QuerySet[Workout]) -> list[WeekLines]:
    """Weeks of some workouts, newest first."""
    lines = lines_of(athlete, Part.objects.of(athlete).filter(workout__in=workouts))
    keys = {line.part.workout_id for line in lines}
    sensors, tags = _sensors_of(athlete, keys), tags_by_workout(athlete, keys)
    by_workout: dict[int, list[PartLine]] = {}
    for line in lines:
        by_workout.setdefault(line.part.workout_id, []).append(line)
    shown = sorted(
        (
            WorkoutLine(
                of_one[0].part.workout, of_one, _load_of(of_one), sensors.get(key, []), tags.get(key, [])
            )
            for key, of_one in by_workout.items()
        ),
        key=lambda line: line.workout.start,
        reverse=True,
    )
    unknown = _unknown_days_by_week(athlete, [line.workout.day for line in shown])
    return [
        WeekLines(
            monday,
            of_week,
            total_of(line for workout in of_week for line in workout.lines),
            sum(line.part.seconds for workout in of_week for line in workout.lines),
            unknown[monday],
        )
        for monday, grouped in groupby(shown, key=lambda line: monday_of(line.workout.day))
        for of_week in [list(grouped)]
    ]


def _load_of(lines: Sequence[PartLine]) -> Total | LoadEstimate | None:
    """Load of a workout's parts: of one part, as it was estimated."""
    estimates = [line.estimate for line in lines if line.estimate]
    return estimates[0] if len(estimates) == 1 else total_of(lines)


def _within(workouts: QuerySet[Workout], mondays: Sequence[date]) -> QuerySet[Workout]:
    """Those in the weeks from the last of the Mondays to the first."""
    if not mondays:
        return workouts.none()
    return workouts.filter(day__range=(mondays[-1], mondays[0] + timedelta(days=6)))


def _unknown_days_by_week(athlete: Athlete, days: Sequence[date]) -> Counter[date]:
    """How many days are marked as not known, by the Monday of each week in which one of ``days`` lies."""
    if not days:
        return Counter()
    first, last = monday_of(min(days)), monday_of(max(days)) + timedelta(days=6)
    return Counter(monday_of(mark.day) for mark in unknown_days_between(athlete, first, last))


def _sensors_of(athlete: Athlete, workout_ids: Iterable[int]) -> dict[int, list[str]]:
    """Names of the sensors that recorded each workout."""
    found: dict[int, list[str]] = {}
    rows = Recording.objects.of(athlete).filter(workout_id__in=list(workout_ids)).order_by("start", "sha256")
    for workout_id, name in rows.values_list("workout_id", "sensor__name"):
        names = found.setdefault(workout_id, [])
        if (name or "sensor not known") not in names:
            names.append(name or "sensor not known")
    return found
