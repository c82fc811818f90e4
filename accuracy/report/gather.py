"""Gather the evidence on tested sensors into a document."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

import numpy as np

from accuracy.core.agreement.differences import paired_epochs
from accuracy.report.collect import Collected, collect
from accuracy.report.columns import day_in_words, known
from accuracy.report.comparison import side_by_side
from accuracy.report.conditions import by_condition, by_work, work_findings
from accuracy.report.correction import correction, correction_finding
from accuracy.report.data import data_of
from accuracy.report.document import Document, Section
from accuracy.report.evidence import SensorEvidence, enough
from accuracy.report.faults import NOTEWORTHY_MINUTES, far_off, fault_findings, faults
from accuracy.report.findings import Estimate, Fault, Findings, HeartRate
from accuracy.report.loads import load_finding, loads
from accuracy.report.methods import REFERENCES, colophon, methods
from accuracy.report.overall import agreement
from accuracy.report.protocol import protocol
from accuracy.report.recommendations import recommendations
from accuracy.report.sentences import listed, summary
from accuracy.report.sessions import one_by_one, session_list
from accuracy.report.starts import lock_on, lock_on_finding
from accuracy.services.pooled_agreement import SHOWN_EPOCH
from accuracy.services.wording import counted
from trainlog.models import Athlete, Sensor

INVENTED = (
    "These recordings are invented: they are the demo's, made by a program. Nothing here is evidence on any "
    "sensor."
)


def gather(
    athlete: Athlete,
    sensors: Sequence[Sensor],
    *,
    anonymised: bool,
    first_day: date | None = None,
    last_day: date | None = None,
) -> Document:
    """Gather a report on one or more tested sensors.

    Parameters
    ----------
    athlete : Athlete
    sensors : sequence of Sensor
        The athlete's tested sensors, in the order of the report; at least one.
    anonymised : bool
        Leave out names, days, times and places: sensors become letters, sessions are numbered, activities of
        the athlete's own making go by their family.
    first_day, last_day : date, optional
        Only workouts from and until these local days count.

    Returns
    -------
    Document
        The same log gives the same document, but for the day on which it was made.

    Raises
    ------
    ValueError
        If no sensor is given.
    """
    if not sensors:
        raise ValueError("a report is about at least one sensor")
    collected = collect(athlete, sensors, anonymised=anonymised, first_day=first_day, last_day=last_day)
    findings = [findings_of(one, collected) for one in collected.sensors]
    names = [one.name for one in collected.sensors]
    alone = len(findings) == 1
    return Document(
        title=f"{listed(names)} against a chest strap",
        subtitle=_subtitle(collected),
        made_on=None if anonymised else athlete.today(),
        summary=((INVENTED,) if athlete.demo_for_id else ()) + (summary(findings[0]) if alone else ()),
        by_sensor=() if alone else tuple((one.sensor, summary(one)) for one in findings),
        sections=tuple(_sections(collected, findings)),
        data=tuple(table for one in collected.sensors for table in data_of(one)),
        references=REFERENCES,
        colophon=colophon(),
    )


def _subtitle(collected: Collected) -> str:
    numbers = {session.number for one in collected.sensors for session in one.sessions}
    hours = sum(one.hours for one in collected.sensors)
    said = f"Heart rate and training load in {counted(len(numbers), 'session')} of one person, {hours:.1f} h"
    if collected.days and not collected.naming.anonymised:
        first, last = (day_in_words(day) for day in collected.days)
        said += f", {first}" if first == last else f", {first} to {last}"
    return said


def _sections(collected: Collected, findings: Sequence[Findings]) -> list[Section]:
    """Results of one sensor stand at the top level, those of several under the name of each."""
    if len(collected.sensors) == 1:
        results = _results(collected.sensors[0])
    else:
        results = [Section(one.name, sections=tuple(_results(one))) for one in collected.sensors]
        results.append(side_by_side(collected.sensors, findings))
    return [protocol(collected), *results, methods()]


def _results(evidence: SensorEvidence) -> list[Section]:
    if not evidence.sessions:
        return [session_list(evidence)]
    return [
        session_list(evidence),
        agreement(evidence),
        by_work(evidence),
        by_condition(evidence),
        lock_on(evidence),
        faults(evidence),
        loads(evidence),
        correction(evidence),
        one_by_one(evidence),
        recommendations(evidence),
    ]


def findings_of(evidence: SensorEvidence, collected: Collected) -> Findings:
    """Numbers that the summary of a sensor is written from."""
    days = [part.pair.part.workout.day for part in evidence.parts]
    told = bool(days) and not collected.naming.anonymised
    return Findings(
        sensor=evidence.name,
        sessions=len(evidence.sessions),
        hours=evidence.hours,
        activities=[(name, len(parts)) for name, parts in evidence.activities.items()],
        days=(day_in_words(min(days)), day_in_words(max(days))) if told else None,
        set_aside=len(evidence.set_aside),
        heart_rate=_heart_rate(evidence),
        load=load_finding(evidence.load_ratios),
        work=work_findings(evidence),
        lock_on=lock_on_finding(evidence),
        far_off=far_off(evidence),
        faults=_noteworthy(fault_findings(evidence, "tested")),
        reference_faults=_noteworthy(fault_findings(evidence, "reference")),
        correction=correction_finding(evidence),
    )


def _noteworthy(found: Sequence[Fault]) -> list[Fault]:
    return [one for one in found if one.minutes >= NOTEWORTHY_MINUTES]


def _heart_rate(evidence: SensorEvidence) -> HeartRate | None:
    pooled = evidence.pooled()
    if pooled is None:
        return None

    def estimate(name: str, factor: float = 1.0) -> Estimate:
        figure = pooled.figures[name]
        low, high = known(figure.low), known(figure.high)
        return Estimate(
            factor * figure.value,
            None if low is None else factor * low,
            None if high is None else factor * high,
        )

    given = enough(pooled.sessions)
    rates = np.concatenate([paired_epochs(*one.traces, SHOWN_EPOCH)[0] for one in evidence.sessions])
    slope = known(pooled.figures["regression_slope"].value)
    return HeartRate(
        bias=estimate("bias"),
        lower=estimate("lower_limit") if given else None,
        upper=estimate("upper_limit") if given else None,
        mean_absolute_error=estimate("mean_absolute_error"),
        mean_absolute_percentage_error=estimate("mean_absolute_percentage_error"),
        lowest=float(np.nanmin(rates)),
        highest=float(np.nanmax(rates)),
        changes_with_rate=estimate("regression_slope", 10.0) if slope is not None else None,
    )
