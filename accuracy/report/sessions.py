"""The sessions of a report: which there are, which were set aside, and each with its overlay and figures."""

from __future__ import annotations

from accuracy import charts, words
from accuracy.core.traces.artefacts import Reason
from accuracy.report.columns import (
    ACTIVITY,
    BIAS,
    CLOSE,
    DAY,
    MEAN_ERROR,
    PERCENT_ERROR,
    SD,
    SESSION,
    day_in_words,
    filled,
    known,
    minutes,
    per_cent,
    who,
)
from accuracy.report.document import Cell, Column, Figure, Section, Table
from accuracy.report.evidence import PartPair, SensorEvidence
from accuracy.services.wording import counted
from trainlog.web.words import clock, duration, signed

OVERLAY_POINTS = 400
"""Points of each trace in an overlay: half a millimetre each on paper."""

OVERLAY_KEY = (("reference", "reference"), ("tested", "tested sensor"))
FLAGGED_KEY = (("flagged", "flagged stretch, named at the top"),)

KNOWN_REASONS = {str(reason.name).lower() for reason in Reason}


def session_list(evidence: SensorEvidence) -> Section:
    """Section that lists what figures rest on, and what was set aside."""
    said = (
        f"Figures rest on {counted(len(evidence.sessions), 'session')} with "
        f"{counted(len(evidence.parts), 'pair')} of recordings; a session of several kinds of work has a "
        "pair for each. Sessions are numbered in order of time over the whole report."
    )
    if not evidence.set_aside:
        said += " No pair was set aside."
    tables = [table for table in (_list(evidence), _aside(evidence)) if table.rows]
    return Section("Sessions", (said,), tuple(tables))


def one_by_one(evidence: SensorEvidence) -> Section:
    """Section with the overlay of each session, and a table of their heart rates."""
    return Section(
        "Sessions one by one",
        (
            "Each overlay shows both traces over their common seconds, the tested one on the reference's "
            "clock. A long session is drawn in means of several seconds, figures are of every second.",
        ),
        (_heart_rates(evidence),),
        tuple(_overlay(evidence, part) for part in evidence.parts),
    )


def _list(evidence: SensorEvidence) -> Table:
    several = len(evidence.references) > 1
    rows = []
    for part in evidence.parts:
        pair = part.pair
        cells: list[tuple[Column, Cell]] = [
            *who(part, dated=True),
            (Column("firmware", "firmware"), part.firmware),
            *(((Column("reference", "reference"), part.reference),) if several else ()),
            (minutes("length", "part"), pair.part.seconds / 60),
            (
                Column("in common", "common_percent", "%", 0),
                100 * pair.common_seconds / max(pair.part.seconds, 1),
            ),
            (
                Column("tested moved earlier by", "moved_earlier_seconds", "s", 1),
                None if pair.shift_ambiguous else pair.shift,
            ),
        ]
        rows.append(cells)
    return filled(
        evidence.file("sessions"),
        "Sessions that figures rest on",
        rows,
        "Where it is not said by how much the tested trace was moved, the traces do not tell, and it was "
        "left.",
    )


def _aside(evidence: SensorEvidence) -> Table:
    dated = any(one.day is not None for one in evidence.set_aside)
    return Table(
        evidence.file("set_aside"),
        "Pairs set aside",
        (
            SESSION,
            *((DAY,) if dated else ()),
            ACTIVITY,
            minutes("in common", "common"),
            Column("in common", "common_percent", "%", 0),
            Column("why", "why"),
        ),
        tuple(
            (
                one.label,
                *((one.day,) if dated else ()),
                one.activity,
                one.common_minutes,
                100 * one.common_share,
                one.why,
            )
            for one in evidence.set_aside
        ),
    )


def heart_rate_cells(part: PartPair) -> list[tuple[Column, Cell]]:
    """Figures of one pair's heart rate, by second, with their columns."""
    own = part.agreement
    return [
        (BIAS, known(own.get("bias"))),
        (SD, known(own.get("sd"))),
        (MEAN_ERROR, known(own.get("mean_absolute_error"))),
        (PERCENT_ERROR, known(own.get("mean_absolute_percentage_error"))),
        (CLOSE, per_cent(own.get("share_within_either"))),
        (Column("peak", "peak_difference_bpm", "bpm", 0), known(own.get("session_peak_difference"))),
        (Column("peaks", "peaks", digits=0), own.get("peaks")),
        (Column("of them missed", "peaks_missed", digits=0), own.get("peaks_missed")),
    ]


def _heart_rates(evidence: SensorEvidence) -> Table:
    rows = []
    for part in evidence.parts:
        mean = (Column("mean, reference", "reference_mean_bpm", "bpm", 0), part.means[0])
        cells = [*who(part), mean, *heart_rate_cells(part)]
        rows.append(cells)
    return filled(
        evidence.file("heart_rate_by_session"),
        "Heart rate of each session, tested minus reference, second by second",
        rows,
        "Bias is the difference of the means. Peak is the difference of the highest five-second means. A "
        "peak of the reference is missed if the tested sensor stays more than 5 bpm below it from 10 s "
        "before to 30 s after.",
    )


def meaning(reason: str) -> str:
    """Words of a reason; one that this version does not know is only said to be a flag."""
    return words.meaning(reason) if reason in KNOWN_REASONS else "flagged"


def _overlay(evidence: SensorEvidence, part: PartPair) -> Figure:
    reference, tested = part.traces
    seconds = len(reference)
    flagged = [
        charts.FlaggedStretch(one.role, max(one.begins, 0), min(one.ends, seconds), meaning(one.reason))
        for one in part.flagged
        if one.ends > 0 and one.begins < seconds
    ]
    spec = charts.overlay(reference, tested, flagged, most_points=OVERLAY_POINTS, with_pointer=False)
    day = f", {day_in_words(part.pair.part.workout.day)}" if part.day else ""
    name = f"Session {part.label}, {part.activity}{day}, {duration(seconds)}"
    reasons = list(dict.fromkeys(f"{one.role}: {one.meaning}" for one in flagged))
    marked = f" Flagged: {'; '.join(reasons)}." if reasons else " Nothing is flagged."
    return Figure(
        evidence.file(f"overlay_session_{file_label(part.label)}"),
        f"{name}: {_in_short(part)}",
        spec,
        f"{name}. Mean heart rate {part.means[0]:.0f} bpm by the reference and {part.means[1]:.0f} bpm by "
        f"the tested sensor over {clock(part.pair.common_seconds)} min in common. "
        f"{_capital(_in_short(part))}.{marked}",
        OVERLAY_KEY + (FLAGGED_KEY if flagged else ()),
    )


def _in_short(part: PartPair) -> str:
    own = part.agreement
    bias, error = known(own.get("bias")), known(own.get("mean_absolute_percentage_error"))
    said = []
    if bias is not None:
        said.append(f"bias {signed(bias)} bpm")
    if error is not None:
        said.append(f"mean absolute percentage error {error:.1f}%")
    if part.load_difference is not None:
        said.append(f"load {signed(part.load_difference, 0)}%")
    if part.begins_session:
        locked = part.lock_on_seconds
        said.append("never locked on" if locked is None else f"locked on after {clock(locked)} min")
    return ", ".join(said)


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]


def file_label(label: str) -> str:
    """Label whose files stand in order of the sessions: "03", "03b"."""
    digits = label.rstrip("abcdefghijklmnopqrstuvwxyz")
    return digits.zfill(2) + label[len(digits) :]
