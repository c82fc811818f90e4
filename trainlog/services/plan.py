"""What the athlete means to do: keeping it, and how far it has come about. Nothing here advises."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction

from trainlog.load.plan import AgainstRange, Open, against_range, still_open
from trainlog.models import Athlete, Deletion, Measure, Part, PlannedSession, UnknownDay, WeekPlan
from trainlog.services.deletions import delete_row
from trainlog.services.lines import WEEK, monday_of
from trainlog.services.plan_matching import Session, State, match, state
from trainlog.services.summed_loads import SummedLoad, dated_loads
from trainlog.services.workout_words import day_in_words

MOST_REPEATS = 12
"""Weeks that are planned like another at once."""


@dataclass(frozen=True)
class PlannedLine:
    """A planned session, what became of it, and the part that met it."""

    session: PlannedSession
    state: State
    part: Part | None


@dataclass(frozen=True)
class PlannedDay:
    """A day of the week with its planned sessions."""

    date: date
    lines: Sequence[PlannedLine]


@dataclass(frozen=True)
class PlanOfWeek:
    """What is meant for a week, and where its load likely lies.

    Attributes
    ----------
    monday : date
        First day.
    measure : str
        Measure of load that the athlete goes by, and so the range's.
    range : WeekPlan or None
        Planned load, if one is set.
    days : sequence of PlannedDay
        All seven.
    load : SummedLoad or None
        Of what is logged in the week; None where nothing has a load.
    running, begun : bool
        Whether today lies in the week, and whether its Monday is past or today.
    likely : AgainstRange or None
        Where that load lies against the range; None without a range or a load.
    to_low, to_high : Open or None
        What the running week still lacks up to each end of the range.
    unknown_days : int
        Days that are marked unknown: what they held is not counted.
    """

    monday: date
    measure: str
    range: WeekPlan | None
    days: Sequence[PlannedDay]
    load: SummedLoad | None
    running: bool
    begun: bool
    likely: AgainstRange | None
    to_low: Open | None
    to_high: Open | None
    unknown_days: int

    @property
    def measure_label(self) -> str:
        """Measure in words."""
        return Measure(self.measure).label

    @property
    def sessions(self) -> int:
        """Planned sessions of the week."""
        return sum(len(day.lines) for day in self.days)

    @property
    def is_empty(self) -> bool:
        """Whether nothing is planned."""
        return self.range is None and not self.sessions


@dataclass(frozen=True)
class Repeated:
    """What planning further weeks like one brought: sessions made, ranges set, ranges that stood already."""

    sessions: int
    ranges: int
    kept_ranges: int


def range_of(athlete: Athlete, day: date) -> WeekPlan | None:
    """Load planned for the week in which a day lies, in the measure that the athlete goes by."""
    return WeekPlan.objects.of(athlete).filter(monday=monday_of(day), measure=athlete.measure).first()


def set_range(athlete: Athlete, day: date, low: float | None, high: float | None, note: str = "") -> WeekPlan:
    """Plan the load of the week in which a day lies, in place of what was planned before.

    Raises
    ------
    ValidationError
        If the range is none.
    """
    plan = WeekPlan(
        owner=athlete, monday=monday_of(day), measure=athlete.measure, low=low, high=high, note=note
    )
    plan.full_clean(exclude=["owner"], validate_unique=False, validate_constraints=False)
    kept, _ = WeekPlan.objects.of(athlete).update_or_create(
        owner=athlete,
        monday=plan.monday,
        measure=plan.measure,
        defaults={"low": low, "high": high, "note": note},
    )
    return kept


def clear_range(athlete: Athlete, day: date) -> Deletion | None:
    """Plan no load for the week in which a day lies; its sessions stay. It can be put back."""
    found = WeekPlan.objects.of(athlete).filter(monday=monday_of(day), measure=athlete.measure).first()
    if found is None:
        return None
    return delete_row(found, f"load planned for the week of {day_in_words(found.monday)}")


def delete_session(session: PlannedSession) -> Deletion:
    """Plan a session no more; it can be put back."""
    return delete_row(session, f"planned {session.activity.name} of {day_in_words(session.day)}")


def save_session(session: PlannedSession, changes: Mapping[str, Any]) -> PlannedSession:
    """Keep a planned session, new or changed.

    Parameters
    ----------
    session : PlannedSession
        With its owner.
    changes : mapping
        Values by the names of the fields; the activity is one of the owner's.

    Raises
    ------
    ValidationError
        If no session can be like that.
    """
    for name, value in changes.items():
        setattr(session, name, value)
    session.full_clean(exclude=["owner"])
    session.save()
    return session


def repeat_week(athlete: Athlete, day: date, weeks: int = 1) -> Repeated:
    """Plan the next week, or several, like the one in which a day lies.

    What stands in those weeks already stays as it is: a range is not replaced, and a session that is planned
    there alike is not planned twice, so that asking again changes nothing.

    Raises
    ------
    ValidationError
        If nothing is planned in the week, or the number of weeks makes no sense.
    """
    if not 1 <= weeks <= MOST_REPEATS:
        raise ValidationError(f"Plan between 1 and {MOST_REPEATS} weeks at once.")
    monday = monday_of(day)
    planned = PlannedSession.objects.of(athlete)
    made: list[PlannedSession] = []
    with transaction.atomic():
        meant = range_of(athlete, monday)
        sessions = list(planned.filter(day__range=(monday, monday + timedelta(days=6))))
        if meant is None and not sessions:
            raise ValidationError("Nothing is planned in this week that could be repeated.")
        until = monday + (weeks + 1) * WEEK - timedelta(days=1)
        there = Counter(_kind(one) for one in planned.filter(day__range=(monday + WEEK, until)))
        for ahead in range(1, weeks + 1):
            for session in sessions:
                copy = PlannedSession(
                    owner=athlete,
                    day=session.day + ahead * WEEK,
                    activity_id=session.activity_id,
                    minutes=session.minutes,
                    hard=session.hard,
                    note=session.note,
                )
                if there[_kind(copy)]:
                    there[_kind(copy)] -= 1
                else:
                    made.append(copy)
        PlannedSession.objects.bulk_create(made)
        new_ranges = [
            WeekPlan.objects.of(athlete).get_or_create(
                owner=athlete,
                monday=monday + ahead * WEEK,
                measure=meant.measure,
                defaults={"low": meant.low, "high": meant.high, "note": meant.note},
            )[1]
            for ahead in range(1, weeks + 1)
            if meant is not None
        ]
    return Repeated(len(made), sum(new_ranges), len(new_ranges) - sum(new_ranges))


def parts_between(athlete: Athlete, first: date, last: date) -> list[Part]:
    """Parts of workouts on local days from ``first`` to ``last``, oldest first, with workout and activity."""
    return list(
        Part.objects.of(athlete)
        .filter(workout__day__range=(first, last))
        .select_related("workout", "activity")
        .order_by("start")
    )


def plan_between(
    athlete: Athlete, first: date, last: date, today: date, parts: Sequence[Part]
) -> list[PlannedLine]:
    """Sessions planned from ``first`` to ``last``, oldest first, with what became of each.

    Parameters
    ----------
    athlete : Athlete
        Whose log it is.
    first, last : date
        Local days, both included.
    today : date
        The athlete's local day: a session of a day before it that nothing met is missed.
    parts : sequence of Part
        Those of these days, as from ``parts_between``.
    """
    sessions = list(
        PlannedSession.objects.of(athlete).filter(day__range=(first, last)).select_related("activity")
    )
    meant = [Session(one.day, one.activity_id, one.activity.family) for one in sessions]
    did = [Session(one.workout.day, one.activity_id, one.activity.family) for one in parts]
    return [
        PlannedLine(
            session,
            state(wanted, None if place is None else did[place], today),
            None if place is None else parts[place],
        )
        for session, wanted, place in zip(sessions, meant, match(meant, did), strict=True)
    ]


def planned_lines(athlete: Athlete, first: date, last: date, today: date) -> list[PlannedLine]:
    """Sessions planned from ``first`` to ``last``, held against what was done on those days."""
    return plan_between(athlete, first, last, today, parts_between(athlete, first, last))


def plan_of_week(athlete: Athlete, day: date, today: date) -> PlanOfWeek:
    """What is meant for the week in which a day lies, and how far it has come about."""
    monday = monday_of(day)
    sunday = monday + timedelta(days=6)
    parts = parts_between(athlete, monday, sunday)
    lines = plan_between(athlete, monday, sunday, today, parts)
    load = dated_loads(athlete, parts).between(monday, sunday)
    meant = range_of(athlete, monday)
    running = monday <= today <= sunday
    return PlanOfWeek(
        monday=monday,
        measure=athlete.measure,
        range=meant,
        days=[
            PlannedDay(date, [line for line in lines if line.session.day == date])
            for date in (monday + timedelta(days=offset) for offset in range(7))
        ],
        load=load,
        running=running,
        begun=monday <= today,
        likely=against_range(load.draws, meant.low, meant.high) if load and meant else None,
        to_low=_open(load, meant.low) if meant and running else None,
        to_high=_open(load, meant.high) if meant and running else None,
        unknown_days=UnknownDay.objects.of(athlete).filter(day__range=(monday, sunday)).count(),
    )


def lately(athlete: Athlete, day: date, weeks: int = 4) -> list[tuple[date, SummedLoad | None]]:
    """Load of each of the last weeks before the one of a day, by its Monday, the latest first."""
    monday = monday_of(day)
    loads = dated_loads(athlete, parts_between(athlete, monday - weeks * WEEK, monday - timedelta(days=1)))
    mondays = [monday - back * WEEK for back in range(1, weeks + 1)]
    return [(each, loads.between(each, each + timedelta(days=6))) for each in mondays]


def _open(load: SummedLoad | None, bound: float | None) -> Open | None:
    if bound is None:
        return None
    return still_open(load.draws, bound) if load else Open(bound, bound, bound)


def _kind(session: PlannedSession) -> tuple[date, int, int | None, bool, str]:
    return session.day, session.activity_id, session.minutes, session.hard, session.note
