"""What the demo's athlete notes beside the sessions, kept once: a row that is there is left as it is."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

from django.core.management.base import CommandError

from fixtures.demo.scenario import Scenario
from trainlog.models import (
    Activity,
    Athlete,
    CheckIn,
    ClaimedRecovery,
    LiftSet,
    Measure,
    Part,
    PlannedSession,
    Stay,
    Tag,
    UnknownDay,
    WeekPlan,
    Workout,
)
from trainlog.models.owned import Owned
from trainlog.services.check_in import save_check_in
from trainlog.services.stays import save_stay
from trainlog.services.unknown_days import mark_unknown


def refuse_others_notes(athlete: Athlete, demo: Scenario) -> None:
    """Refuse a log that holds a morning, a stay or a mark which is not of this demo.

    Raises
    ------
    CommandError
        If it does.
    """
    days = {
        CheckIn: {morning.day for morning in demo.mornings},
        Stay: {stay.first_day for stay in demo.stays},
        UnknownDay: {marked.day for marked in demo.unknown_days},
    }
    for table, ours in days.items():
        name = "first_day" if table is Stay else "day"
        if not ours.issuperset(table.objects.of(athlete).values_list(name, flat=True)):
            raise CommandError(
                f"The log of {athlete} holds mornings, stays or marked days that are not of this demo, so "
                "nothing was loaded. Choose another user with --user, or the --last-day of a demo that was "
                "begun before."
            )


def keep_days(athlete: Athlete, demo: Scenario) -> None:
    """Keep stays, days that are not known, and mornings."""
    begun = set(Stay.objects.of(athlete).values_list("first_day", flat=True))
    for stay in demo.stays:
        if stay.first_day not in begun:
            save_stay(athlete, Stay(**asdict(stay)))
    marked = set(UnknownDay.objects.of(athlete).values_list("day", flat=True))
    for unknown in demo.unknown_days:
        if unknown.day not in marked:
            mark_unknown(athlete, unknown.day, unknown.day, unknown.note)
    noted = set(CheckIn.objects.of(athlete).values_list("day", flat=True))
    for morning in demo.mornings:
        if morning.day not in noted:
            values = asdict(morning)
            save_check_in(athlete, values.pop("day"), values)


def keep_notes(athlete: Athlete, demo: Scenario) -> None:
    """Keep the plan, and what is noted of workouts and parts that are there."""
    activities = {activity.slug: activity for activity in Activity.objects.of(athlete)}
    for load in demo.planned_loads:
        key = {"monday": load.monday, "measure": Measure.TRIMP.value}
        _keep(athlete, WeekPlan, key, {"low": load.low, "high": load.high, "note": load.note})
    for planned in demo.planned_days:
        key = {"day": planned.day, "activity": activities[planned.activity]}
        _keep(athlete, PlannedSession, key, {"minutes": planned.minutes, "hard": planned.hard})
    workouts = list(Workout.objects.of(athlete))
    for tagged in demo.tags:
        tag = _keep(athlete, Tag, {"name": tagged.tag})
        _under_way(workouts, tagged.moment).tags.add(tag)
    parts = list(Part.objects.of(athlete))
    for line in demo.sets:
        values = asdict(line)
        key = {"part": _under_way(parts, values.pop("moment")), "place": values.pop("place")}
        _keep(athlete, LiftSet, key, values)
    for claim in demo.claims:
        key = {"workout": _under_way(workouts, claim.moment), "fed_by": claim.fed_by}
        _keep(athlete, ClaimedRecovery, key, {"hours": claim.hours})


def _keep(
    athlete: Athlete, table: type[Owned], key: Mapping[str, Any], values: Mapping[str, Any] | None = None
) -> Any:
    values = values or {}
    row = table(owner=athlete, **key, **values)
    row.full_clean(exclude=["owner"], validate_unique=False, validate_constraints=False)
    kept, _ = table.objects.of(athlete).get_or_create(**key, defaults={"owner": athlete, **values})
    return kept


def _under_way(rows: list[Any], moment: Any) -> Any:
    return next(row for row in rows if row.start <= moment < row.end)
