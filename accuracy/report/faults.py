"""What was found wrong in either trace, and where the tested sensor was far off."""

from __future__ import annotations

from accuracy.report.columns import minutes
from accuracy.report.document import Cell, Column, Section, Table
from accuracy.report.evidence import SensorEvidence
from accuracy.report.findings import Fault
from accuracy.report.sessions import meaning
from accuracy.services.wording import counted

NOTEWORTHY_MINUTES = 0.5
"""Minutes in all from which the summary names a fault (ours)."""


def fault_findings(evidence: SensorEvidence, role: str) -> list[Fault]:
    """What was found in the traces of one role, longest first.

    Parameters
    ----------
    evidence : SensorEvidence
    role : str
        "reference" or "tested".
    """
    seconds: dict[str, float] = {}
    sessions: dict[str, set[int]] = {}
    for session in evidence.sessions:
        for part in session.parts:
            for one in part.flagged:
                if one.role == role:
                    words = meaning(one.reason)
                    seconds[words] = seconds.get(words, 0.0) + one.ends - one.begins
                    sessions.setdefault(words, set()).add(session.number)
    order = sorted(seconds, key=lambda words: (-seconds[words], words))
    return [Fault(words, len(sessions[words]), seconds[words] / 60) for words in order]


def far_off(evidence: SensorEvidence) -> Fault | None:
    """Stretches of a minute and more on which the sensor was far off; None without one."""
    seconds = [
        sum(one.end - one.start for part in session.parts for one in part.departures)
        for session in evidence.sessions
    ]
    found = [one for one in seconds if one]
    return Fault("far off", len(found), sum(found) / 60) if found else None


def faults(evidence: SensorEvidence) -> Section:
    """Section on faults of both sensors."""
    found = far_off(evidence)
    stretches = [one for part in evidence.parts for one in part.departures]
    if found:
        longest = max(one.end - one.start for one in stretches)
        low = sum(one.mean_difference < 0 for one in stretches)
        said = (
            "The tested sensor was off by more than 10% and 5 bpm for a minute or longer on "
            f"{counted(len(stretches), 'stretch').replace('stretchs', 'stretches')} in {found.sessions} of "
            f"{len(evidence.sessions)} sessions, {found.minutes:.0f} min in all, the longest "
            f"{longest / 60:.0f} min; on {low} of them it read low."
        )
    else:
        said = (
            "On no stretch of a minute or longer was the tested sensor off by more than 10% and 5 bpm, in "
            f"{counted(len(evidence.sessions), 'session')}."
        )
    return Section(
        "Faults",
        (
            said,
            "Each trace is also judged by itself, without the other. What is found in the reference is cut "
            "from both traces; what is found in the tested one stays in, for it is what is tested. Flags may "
            "overlap. A rate near the step rate can be told only where a recording holds the cadence.",
        ),
        (_table(evidence),),
    )


def _table(evidence: SensorEvidence) -> Table:
    total = sum(part.pair.part.seconds for part in evidence.parts) / 60 or 1
    by_role = {
        role: {one.meaning: one for one in fault_findings(evidence, role)} for role in ("tested", "reference")
    }
    rows = []
    for words in dict.fromkeys([*by_role["tested"], *by_role["reference"]]):
        cells: list[Cell] = [words]
        for role in ("tested", "reference"):
            one = by_role[role].get(words)
            cells += [one.sessions, one.minutes, 100 * one.minutes / total] if one else [0, 0.0, 0.0]
        rows.append(tuple(cells))
    columns = [Column("found in a trace", "finding")]
    for role in ("tested", "reference"):
        columns += [
            Column(f"{role}: sessions", f"{role}_sessions", digits=0),
            minutes(f"{role}: time", role, 1),
            Column(f"{role}: time", f"{role}_time_percent", "%", 2),
        ]
    return Table(
        evidence.file("faults"),
        f"What was found in either trace over {counted(len(evidence.sessions), 'session')}",
        tuple(columns),
        tuple(rows),
    )
