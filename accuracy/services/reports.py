"""Reports that an athlete has asked for: asking, claiming, keeping, giving up, deleting."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date, timedelta
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import F, Prefetch, Q, QuerySet
from django.utils import timezone

from accuracy.models import Pair, Report, ReportFile
from accuracy.services.stale import MOST_ATTEMPTS
from trainlog.models import Athlete, Sensor
from trainlog.pace import FIRST_CHANCE, unclaimed
from trainlog.services.wake import wake

MAKE_TASK = "accuracy.tasks.make_report"

LONGEST = 300
"""Seconds that making one may take: two sensors with 44 pairs took 45 and 95 on two cores that fifteen other
processes wanted too."""

CLAIM = timedelta(seconds=LONGEST + 30)
"""How long one worker keeps a report to itself; longer than making it may take."""

MOST_KEPT = 20
"""Reports of one log: each is some megabytes, and any of them can be made again."""

BROKE_OFF = (
    f"Making it was begun {MOST_ATTEMPTS} times and never ended: the program ran out of time or memory, or "
    "broke off. Ask for fewer sensors or fewer days."
)
FAILED = (
    f"Making it failed {MOST_ATTEMPTS} times, which is a fault of the program; its log says what it was. "
    "Other sensors or days may still work."
)


def sensors_with_pairs(athlete: Athlete) -> QuerySet[Sensor]:
    """Tested sensors that there is something to report of, by name."""
    paired = Pair.objects.of(athlete).filter(usable=True).values("tested__sensor")
    return Sensor.objects.of(athlete).filter(pk__in=paired).order_by("name")


def reports_of(athlete: Athlete) -> list[Report]:
    """Reports of an athlete, the newest first, with their sensors, and their files without contents."""
    files = Prefetch("files", ReportFile.objects.defer("content").order_by("pk"))
    return list(Report.objects.of(athlete).prefetch_related("sensors", files))


@transaction.atomic
def ask_for_report(
    athlete: Athlete,
    sensors: Iterable[Sensor],
    *,
    anonymised: bool = True,
    first_day: date | None = None,
    last_day: date | None = None,
) -> Report:
    """Note that a report is wanted; a worker makes it.

    Parameters
    ----------
    athlete : Athlete
        Whose log it is.
    sensors : iterable of Sensor
        Tested sensors of the athlete's.
    anonymised : bool
        Whether names, days and places are left out.
    first_day, last_day : date or None
        Local days, both included; None leaves that end open.

    Raises
    ------
    ValidationError
        If there is nothing to report, the days are in the wrong order, or the log keeps as many as it may.
    """
    chosen = list(sensors)
    if first_day and last_day and last_day < first_day:
        raise ValidationError({"last_day": "The last day must not be before the first."})
    if problem := nothing_to_report(athlete, chosen, first_day, last_day):
        raise ValidationError({"sensors": problem})
    if Report.objects.of(athlete).count() >= MOST_KEPT:
        raise ValidationError(f"{MOST_KEPT} reports are kept already; delete one first.")
    report = Report.objects.create(
        owner=athlete, anonymised=anonymised, first_day=first_day, last_day=last_day
    )
    report.sensors.set(chosen)
    transaction.on_commit(lambda: wake(MAKE_TASK, report.pk))
    return report


def nothing_to_report(
    athlete: Athlete, sensors: Sequence[Sensor], first_day: date | None, last_day: date | None
) -> str:
    """Why there is nothing to report of these sensors and days, in a sentence; empty if there is."""
    if not sensors:
        return "Choose at least one sensor."
    if any(sensor.owner_id != athlete.pk for sensor in sensors):
        return "Choose sensors of your own."
    pairs = Pair.objects.of(athlete).filter(usable=True)
    if first_day:
        pairs = pairs.filter(part__workout__day__gte=first_day)
    if last_day:
        pairs = pairs.filter(part__workout__day__lte=last_day)
    paired = set(pairs.values_list("tested__sensor", flat=True))
    without = [sensor.name for sensor in sensors if sensor.pk not in paired]
    if not without:
        return ""
    days = " on these days" if first_day or last_day else ""
    return f"No session{days} was recorded by a strap and {', '.join(without)} together."


def claim_report(report_id: int) -> Report | None:
    """Take a report that waits, and count the attempt; None if it waits no more or somebody is at it."""
    waiting = Report.objects.filter(
        unclaimed(CLAIM), pk=report_id, state=Report.State.WAITING, attempts__lt=MOST_ATTEMPTS
    )
    if not waiting.update(claimed_until=timezone.now() + CLAIM, attempts=F("attempts") + 1):
        return None
    return Report.objects.select_related("owner").prefetch_related("sensors").get(pk=report_id)


@transaction.atomic
def keep_report(report: Report, files: Mapping[str, bytes]) -> bool:
    """Keep all forms of a report, unless it was made or deleted meanwhile.

    Parameters
    ----------
    report : Report
    files : mapping of str to bytes
        Contents by kind.
    """
    kept = Report.objects.filter(pk=report.pk, state=Report.State.WAITING).update(
        state=Report.State.MADE, made_at=timezone.now(), failure="", claimed_until=None
    )
    if not kept:
        return False
    ReportFile.objects.filter(report=report).delete()
    ReportFile.objects.bulk_create(
        ReportFile(owner=report.owner, report=report, kind=kind, content=content, byte_count=len(content))
        for kind, content in files.items()
    )
    return True


def set_aside(report: Report, reason: str = "") -> None:
    """Note that a report was not made: for good with a reason, or else until its attempts are used up."""
    changes: dict[str, Any] = {"claimed_until": None}
    if reason or report.attempts >= MOST_ATTEMPTS:
        changes |= {"state": Report.State.FAILED, "failure": reason or FAILED}
    Report.objects.filter(pk=report.pk, state=Report.State.WAITING).update(**changes)


def unmade() -> list[int]:
    """Ids of reports that wait and nobody is at; those that broke off every time are given up."""
    had_a_chance = Q(claimed_until__isnull=False) | Q(asked_at__lt=timezone.now() - FIRST_CHANCE)
    forgotten = Report.objects.filter(unclaimed(CLAIM), had_a_chance, state=Report.State.WAITING)
    forgotten.filter(attempts__gte=MOST_ATTEMPTS).update(
        state=Report.State.FAILED, failure=BROKE_OFF, claimed_until=None
    )
    return list(forgotten.order_by("pk").values_list("pk", flat=True))


def delete_report(report: Report) -> None:
    """Delete a report with its files; it can be made again."""
    report.delete()
