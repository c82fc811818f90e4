"""Strap plan of a fit: what one more pair is expected to bring, and what earlier ones brought."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, timedelta

from django.db.models import Max, Min, Q

from accuracy.core.estimates.correct import LEAST_RECORDED
from accuracy.core.estimates.strap_plan import UsualWeeks, expected_half_width, half_width_when_worn, weeks_of
from accuracy.models import Fit, Pair, PlannedStrap, StrapGain, StrapPlan, Stretch
from accuracy.services.knowledge import Knowledge, PhysiologyOn
from accuracy.services.profiles import current_fit
from accuracy.services.sessions import wrist_session
from trainlog.models import Activity, Athlete, Basis, LoadEstimate, Sensor, Workout

WEEKS = 8
"""Weeks before the newest workout that stand for the usual one (common practice, no source)."""

FURTHER = 8
"""Newest sessions of a sensor on an activity that one more may be like (common practice, no source)."""

NEWEST_GAINS = 12
"""Gains that are shown at most."""

FROM_WRIST = {Basis.ACCEPTED, Basis.CORRECTED, Basis.COMBINED, Basis.UNCORRECTED}


@dataclass(frozen=True, eq=False)
class Planned:
    """A plan and its rows, not yet saved."""

    plan: StrapPlan
    rows: list[PlannedStrap]


@dataclass(frozen=True, eq=False)
class WornAlone:
    """Sessions of a tested sensor on an activity without any strap, newest first."""

    sensor: Sensor
    activity: Activity
    stretches: list[Stretch]


def plan_of(fit: Fit, knowledge: Knowledge, physiology_on: PhysiologyOn) -> Planned | None:
    """Rank what was worn without a strap by what one more pair of it is expected to bring.

    Parameters
    ----------
    fit : Fit
        Under which every part has been estimated.
    knowledge : Knowledge
        What it learned.
    physiology_on : callable
        Physiology in force on a day.

    Returns
    -------
    Planned or None
        None for a log without any load. Without a session to narrow, a plan without rows.
    """
    athlete = fit.owner
    span = Workout.objects.of(athlete).aggregate(first=Min("day"), last=Max("day"))
    if span["last"] is None:
        return None
    last, days = span["last"], min((span["last"] - span["first"]).days + 1, 7 * WEEKS)
    estimates = _estimates(athlete, fit.source, last)
    if not estimates:
        return None
    weeks = _weeks(estimates, last)
    plan = StrapPlan(
        owner=athlete,
        fit=fit,
        last_day=last,
        weeks=-(-days // 7),
        parts=len(estimates),
        measured_parts=sum(row.basis == Basis.MEASURED for row in estimates.values()),
        half_width=weeks.half_width,
    )
    rows = []
    for worn in _worn_alone(athlete, last):
        sessions = [
            wrist_session(stretch, physiology)
            for stretch in worn.stretches[:FURTHER]
            if (physiology := physiology_on(stretch.part.workout.day))
        ]
        # Like one that was, but with a chance of its own.
        further = [
            knowledge.wrist.further_session(replace(one, content=f"{one.content}/one more"))
            for one in sessions
        ]
        rows.append(
            PlannedStrap(
                owner=athlete,
                plan=plan,
                sensor=worn.sensor,
                activity=worn.activity,
                sessions_a_week=len(worn.stretches) / max(days / 7, 1.0),
                expected_half_width=expected_half_width(weeks, further),
                worn_half_width=half_width_when_worn(
                    weeks,
                    [
                        ((last - stretch.part.workout.day).days // 7, estimate.load_by_sensor_doubt)
                        for stretch in worn.stretches
                        if (estimate := estimates.get(stretch.part_id))
                    ],
                ),
            )
        )
    rows.sort(
        key=lambda row: (
            # What differs by less than is shown is settled by what the strap measures itself.
            round(row.expected_half_width, 3),
            row.worn_half_width,
            -row.sessions_a_week,
            row.sensor.name,
            row.activity.slug,
        )
    )
    for place, row in enumerate(rows, start=1):
        row.rank = place
    return Planned(plan, rows)


def current_plan(athlete: Athlete) -> StrapPlan | None:
    """Plan of the fit whose estimates the pages show."""
    fit = current_fit(athlete)
    return StrapPlan.objects.of(athlete).filter(fit=fit).first() if fit else None


def planned_straps(plan: StrapPlan) -> list[PlannedStrap]:
    """Rows of a plan, the one that brings most first."""
    return list(
        PlannedStrap.objects.of(plan.owner).filter(plan=plan).select_related("plan", "sensor", "activity")
    )


def earlier_gains(athlete: Athlete) -> list[StrapGain]:
    """What the newest planned strap sessions brought, newest first."""
    return list(StrapGain.objects.of(athlete).select_related("sensor", "activity")[:NEWEST_GAINS])


def gains_of(fit: Fit, before: Fit | None) -> list[StrapGain]:
    """What new pairs of planned cells brought, not yet saved.

    Both half-widths are of the parts whose inputs are the same under both fits, in the weeks of the plan that
    was shown: what the new pairs measure themselves is in neither.

    Parameters
    ----------
    fit : Fit
        About to be published; every part has been estimated under it.
    before : Fit or None
        The one that the pages show until then.
    """
    if before is None or before.pk == fit.pk or before.method_version != fit.method_version:
        return []
    plan = StrapPlan.objects.of(fit.owner).filter(fit=before).first()
    added = _added_pairs(fit, before)
    if plan is None or not added or plan.half_width <= 0:
        return []
    planned = [row for row in planned_straps(plan) if f"{row.sensor.key}/{row.activity.slug}" in added]
    old, new = (_estimates(fit.owner, source, plan.last_day) for source in (before.source, fit.source))
    same = [pk for pk in old.keys() & new.keys() if old[pk].input_revision == new[pk].input_revision]
    was, came = (_weeks({pk: found[pk] for pk in same}, plan.last_day).half_width for found in (old, new))
    if was <= 0:
        return []
    return [
        StrapGain(
            owner=fit.owner,
            sensor=row.sensor,
            activity=row.activity,
            day=day,
            pairs=sum(added.values()),
            expected_from=was,
            expected_to=was * row.expected_half_width / plan.half_width,
            came_to=came,
        )
        for row in planned
        if (day := _newest_new_pair(row, before))
    ]


def _estimates(athlete: Athlete, source: str, last: date) -> dict[int, LoadEstimate]:
    """Estimates of the parts of the weeks up to a day, by part."""
    first = last - timedelta(days=7 * WEEKS - 1)
    found = (
        LoadEstimate.objects.of(athlete)
        .filter(source=source, measure="trimp", part__workout__day__range=(first, last))
        .select_related("part__workout")
        .defer("all_draws", "physiology_draws", "reason")
    )
    return {row.part_id: row for row in found}


def _weeks(estimates: dict[int, LoadEstimate], last: date) -> UsualWeeks:
    return weeks_of(
        {pk: row.part.workout.day.toordinal() for pk, row in estimates.items()},
        {pk: row.load_by_sensor_doubt for pk, row in estimates.items()},
        {pk for pk, row in estimates.items() if row.basis in FROM_WRIST},
        last=last.toordinal(),
        weeks=WEEKS,
    )


def _worn_alone(athlete: Athlete, last: date) -> list[WornAlone]:
    first = last - timedelta(days=7 * WEEKS - 1)
    stretches = [
        stretch
        for stretch in Stretch.objects.of(athlete)
        .filter(part__workout__day__range=(first, last), recording__sensor__isnull=False)
        .select_related("part__workout", "part__activity", "recording__sensor")
        .prefetch_related("recording__sensor__firmware")
        .defer("recording__trace_blob", "histogram")
        .order_by("-part__start", "recording__sha256")
        if stretch.valid_seconds >= LEAST_RECORDED * stretch.seconds
    ]
    with_strap = {
        one.part_id for one in stretches if (sensor := one.recording.sensor) and sensor.is_reference
    }
    worn: dict[tuple[int, int], WornAlone] = {}
    for stretch in stretches:
        sensor = stretch.recording.sensor
        if sensor is not None and stretch.part_id not in with_strap:
            cell = (sensor.pk, stretch.part.activity_id)
            worn.setdefault(cell, WornAlone(sensor, stretch.part.activity, [])).stretches.append(stretch)
    return list(worn.values())


def _added_pairs(fit: Fit, before: Fit) -> dict[str, int]:
    """Pairs that a fit has more than another, by instrument and activity; only where it has more."""
    now, then = (one.calibration.get("by_cell", {}) for one in (fit, before))
    more = {cell: len(scores) - len(then.get(cell, [])) for cell, scores in now.items()}
    return {cell: count for cell, count in more.items() if count > 0}


def _newest_new_pair(row: PlannedStrap, before: Fit) -> date | None:
    """Day of the newest pair of a cell that was not measured yet under the fit before.

    One of its files came after that fit: what was deleted and put back had come before, and brought nothing
    new. So had files whose sensors were told only later: a gain is left out rather than guessed.
    """
    known = set(
        LoadEstimate.objects.of(row.owner)
        .filter(source=before.source, basis=Basis.MEASURED)
        .values_list("part_id", flat=True)
    )
    pairs = Pair.objects.of(row.owner).filter(
        Q(reference__received_at__gt=before.created_at) | Q(tested__received_at__gt=before.created_at),
        usable=True,
        tested__sensor=row.sensor,
        part__activity=row.activity,
    )
    days = [day for part, day in pairs.values_list("part_id", "part__workout__day") if part not in known]
    return max(days, default=None)
