"""How long the tested sensor took to find the heart rate at the start of sessions."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from accuracy import charts
from accuracy.core.agreement.timing import LOCKED_SECONDS
from accuracy.report.columns import ACTIVITY, SESSIONS
from accuracy.report.document import Cell, Column, Figure, Section, Table
from accuracy.report.evidence import PartPair, SensorEvidence
from accuracy.report.findings import LockOn
from accuracy.report.sentences import LATE_SECONDS
from trainlog.web.words import clock

KEY = (("session", "a session"), ("unknown", "never locked on"))


def lock_on_finding(evidence: SensorEvidence) -> LockOn:
    """Lock-on over all starts, for the summary."""
    return _found(evidence.starts)


def _found(starts: Sequence[PartPair]) -> LockOn:
    seconds = [one.lock_on_seconds for one in starts if one.lock_on_seconds is not None]
    return LockOn(
        sessions=len(starts),
        never=len(starts) - len(seconds),
        late=sum(value > LATE_SECONDS for value in seconds),
        middle=float(np.median(seconds)) if seconds else None,
        longest=max(seconds, default=None),
    )


def lock_on(evidence: SensorEvidence) -> Section:
    """Section on the start of sessions."""
    title = "Start of sessions"
    if not evidence.starts:
        return Section(title, ("No pair begins with its session.",))
    said = (
        "A sensor has locked on from the first second after which it stays within 10% or 5 bpm of the "
        f"reference for {LOCKED_SECONDS} s on end (common practice, no published definition). Only parts "
        "with which a session begins are counted. While the reference has no reading at the start, a lock-on "
        "cannot be told, and so some of these times are too long."
    )
    return Section(title, (said,), (_table(evidence),), (_figure(evidence),))


def _table(evidence: SensorEvidence) -> Table:
    by_activity = {
        activity: [part for part in parts if part.begins_session]
        for activity, parts in evidence.activities.items()
    }
    rows = [_row(activity, starts) for activity, starts in by_activity.items() if starts]
    if len(rows) > 1:
        rows.append(_row("all", evidence.starts))
    return Table(
        evidence.file("lock_on"),
        "Time until the tested sensor locked on",
        (
            ACTIVITY,
            SESSIONS,
            Column("shortest", "shortest_seconds", "s", 0),
            Column("middle", "median_seconds", "s", 0),
            Column("longest", "longest_seconds", "s", 0),
            Column("over two minutes", "sessions_over_two_minutes", digits=0),
            Column("never", "sessions_never", digits=0),
        ),
        tuple(rows),
    )


def _row(name: str, starts: Sequence[PartPair]) -> tuple[Cell, ...]:
    found = _found(starts)
    shortest = min((one.lock_on_seconds for one in starts if one.lock_on_seconds is not None), default=None)
    return (name, found.sessions, shortest, found.middle, found.longest, found.late, found.never)


def _figure(evidence: SensorEvidence) -> Figure:
    order = list(evidence.activities)
    starts = sorted(evidence.starts, key=lambda one: order.index(one.activity))
    drawn = [charts.LockOn(f"session {one.label}", one.activity, one.lock_on_seconds) for one in starts]
    said = "; ".join(
        f"{activity}: " + ", ".join(_time(one) for one in drawn if one.activity == activity)
        for activity in dict.fromkeys(one.activity for one in drawn)
    )
    never = any(one.seconds is None for one in drawn)
    return Figure(
        evidence.file("lock_on_times"),
        "Time until the tested sensor locked on, a mark for each session",
        charts.lock_on(drawn),
        f"Minutes until locked on in {len(drawn)} sessions, by kind of work. {said}.",
        KEY if never else KEY[:1],
    )


def _time(one: charts.LockOn) -> str:
    return "never" if one.seconds is None else clock(one.seconds)
