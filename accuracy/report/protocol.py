"""What was tested on whom, and how the recordings were treated."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from accuracy.core.traces.detectors import HIGHEST_RATE, LOWEST_RATE
from accuracy.report.collect import Collected
from accuracy.report.columns import SESSIONS
from accuracy.report.document import Cell, Column, Section, Table
from accuracy.report.evidence import PartPair, SensorEvidence
from accuracy.services.pair_report import clocks_agree
from accuracy.services.pooled_agreement import SHOWN_EPOCH
from accuracy.services.wording import counted
from trainlog.models import Physiology

TREATMENT = (
    "Each recording was read as one value a second. Silences up to 30 s were bridged in a straight line; "
    "longer ones stayed open. Nothing was smoothed.",
    "Faults of the reference (drop-outs, values outside "
    f"{LOWEST_RATE:.0f} to {HIGHEST_RATE:.0f} bpm, changes faster than a heart makes, an unsettled start) "
    "were found from its own trace, without consulting the tested sensor, and cut from both "
    "traces. Faults of the tested sensor were noted and kept, since they are what is tested.",
    "A pair counts where both traces have at least 80% of the part's seconds in common; other pairs are "
    "listed and no figure rests on them. A difference is always tested minus reference. Unless said "
    f"otherwise heart rates are compared as means of {SHOWN_EPOCH} s, and the session is the sample: "
    "intervals are 95% intervals over sessions, and seconds of one session never count as independent.",
)


def protocol(collected: Collected) -> Section:
    """Section on person, sensors, clocks and treatment."""
    sensors = collected.sensors
    return Section(
        "What was tested, and how",
        (
            _person(collected.physiology),
            "The sessions were the person's own training. Nobody set their kind, order or intensity, and "
            "nobody watched how the sensors were worn.",
            *(_clocks(one, several=len(sensors) > 1) for one in sensors if one.parts),
            *TREATMENT,
        ),
        (_sensors(sensors),),
    )


def _person(rows: Sequence[Physiology]) -> str:
    said = (
        "One person. Age, sex, height, body mass index and skin tone are not known. "
        "Reference and tested sensor were worn at once in every session that is compared."
    )
    if not rows:
        return f"{said} Resting and maximum heart rate are not known either, so nothing is told by intensity."
    newest = rows[-1]
    rates = (
        f"Intensity is told by heart-rate reserve, from a resting rate of {newest.resting_rate:.0f} bpm to a "
        f"maximum of {newest.maximum_rate:.0f} bpm ({newest.get_maximum_source_display()})"
    )
    others = f"; earlier sessions by {len(rows) - 1} earlier such ranges" if len(rows) > 1 else ""
    if len(rows) == 2:
        others = "; earlier sessions by an earlier such range"
    return f"{said} {rates}{others}."


def _sensors(sensors: Sequence[SensorEvidence]) -> Table:
    rows: list[tuple[Cell, ...]] = []
    for one in sensors:
        rows.append(
            (
                one.name,
                "tested",
                one.sensor.get_site_display(),
                one.sensor.get_principle_display(),
                _versions(one.parts),
                len(one.sessions),
                one.hours,
            )
        )
    worn = Counter(part.reference for one in sensors for part in one.parts)
    hours: dict[str, float] = {}
    sessions: dict[str, set[int]] = {}
    for one in sensors:
        for session in one.sessions:
            for part in session.parts:
                hours[part.reference] = hours.get(part.reference, 0.0) + part.common_minutes / 60
                sessions.setdefault(part.reference, set()).add(session.number)
    rows += [
        (name, "reference", "chest", "electrical", None, len(sessions[name]), hours[name])
        for name, _ in worn.most_common()
    ]
    return Table(
        "sensors",
        "Sensors",
        (
            Column("sensor", "sensor"),
            Column("role", "role"),
            Column("worn at", "site"),
            Column("principle", "principle"),
            Column("firmware (pairs)", "firmware"),
            SESSIONS,
            Column("time compared", "compared_hours", "h", 1),
        ),
        tuple(rows),
        "Time is that in which both sensors gave a reading.",
    )


def _versions(parts: Sequence[PartPair]) -> str | None:
    """Firmware versions in order of first use, with the pairs of each."""
    counts = Counter(part.firmware for part in parts if part.firmware)
    unknown = sum(1 for part in parts if not part.firmware)
    named = [f"{version} ({count})" for version, count in counts.items()]
    if named and unknown:
        named.append(f"not known ({unknown})")
    return ", ".join(named) or None


def _clocks(one: SensorEvidence, *, several: bool) -> str:
    """How the clocks of a sensor's pairs were brought together."""
    pairs = [part.pair for part in one.parts if not clocks_agree(part.pair)]
    synchronised = len(one.parts) - len(pairs)
    ambiguous = sum(pair.shift_ambiguous for pair in pairs)
    moved = [pair.shift for pair in pairs if pair.shift and not pair.shift_ambiguous]
    said = []
    if synchronised:
        said.append(f"in {synchronised} both clocks were set by network or satellites and nothing was moved")
    if moved:
        reach = f"{_move(min(moved))} to {_move(max(moved))}" if len(moved) > 1 else _move(moved[0])
        said.append(f"in {len(moved)} the tested trace was moved ({reach}) to where both traces agree best")
    if ambiguous:
        said.append(
            f"in {ambiguous} the traces do not tell how far the clocks lie apart, and nothing was moved"
        )
    rest = len(pairs) - len(moved) - ambiguous
    if rest > 0:
        said.append(f"in {rest} they agree best where they are")
    begins = f"Clocks of {one.name}" if several else "Clocks"
    of = f"of {counted(len(one.parts), 'pair')}"
    return f"{begins}: {of}, {'; '.join(said)}. No trace is moved by more than 120 s."


def _move(seconds: float) -> str:
    """How far a trace was moved: a positive shift is one that ran late."""
    return f"{abs(seconds):.1f} s {'earlier' if seconds > 0 else 'later'}"
