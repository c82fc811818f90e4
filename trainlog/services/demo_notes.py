"""What the demo's athlete notes beside the sessions, kept once: a row that is there is left as it is."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from fixtures.demo.scenario import Scenario
from trainlog.models import (
    Activity,
    Athlete,
    CheckIn,
    ClaimedRecovery,
    Measure,
    Part,
    PlannedSession,
    Stay,
    UnknownDay,
    Workout,
)
from trainlog.services.check_in import save_check_in
from trainlog.services.lift_sets import add_set
from trainlog.services.plan import range_of, save_session, set_range
from trainlog.services.recovery_check import claim_recovery
from trainlog.services.stays import save_stay
from trainlog.services.tags import set_tags
from trainlog.services.unknown_days import mark_unknown


class NotThisDemo(ValueError):
    """The log holds something that is not of the demo that would be put into it."""


def refuse_others_notes(athlete: Athlete, demo: Scenario) -> None:
    """Refuse a log that holds a morning, a stay or a mark which is not of this demo.

    Raises
    ------
    NotThisDemo
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
            raise NotThisDemo(f"The log of {athlete} holds mornings, stays or marked days")


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
    _keep_plan(athlete, demo)
    workouts = list(Workout.objects.of(athlete).prefetch_related("tags").select_related("owner"))
    wanted: dict[Workout, list[str]] = {}
    for tagged in demo.tags:
        wanted.setdefault(_under_way(workouts, tagged.moment), []).append(tagged.tag)
    for workout, tags in wanted.items():
        there = [tag.name for tag in workout.tags.all()]
        if not set(tags) <= set(there):
            set_tags(workout, [*there, *tags])
    parts = list(Part.objects.of(athlete).select_related("owner"))
    lifted = {part: part.lift_sets.count() for part in parts}
    for line in demo.sets:
        said = asdict(line)
        part, place = _under_way(parts, said.pop("moment")), said.pop("place")
        if place >= lifted[part]:
            add_set(part, said)
    claimed = set(ClaimedRecovery.objects.of(athlete).values_list("workout", "fed_by"))
    for claim in demo.claims:
        workout = _under_way(workouts, claim.moment)
        if (workout.pk, claim.fed_by) not in claimed:
            claim_recovery(workout, claim.fed_by, claim.hours)


def _keep_plan(athlete: Athlete, demo: Scenario) -> None:
    activities = {activity.slug: activity for activity in Activity.objects.of(athlete)}
    for load in demo.planned_loads:
        # The ranges are of training impulse; in another measure they would mean something else.
        if athlete.measure == Measure.TRIMP and range_of(athlete, load.monday) is None:
            set_range(athlete, load.monday, load.low, load.high, load.note)
    planned = set(PlannedSession.objects.of(athlete).values_list("day", "activity__slug"))
    for session in demo.planned_days:
        if (session.day, session.activity) not in planned:
            changes = asdict(session) | {"activity": activities[session.activity]}
            save_session(PlannedSession(owner=athlete), changes)


def _under_way(rows: list[Any], moment: Any) -> Any:
    return next(row for row in rows if row.start <= moment < row.end)
