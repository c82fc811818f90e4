"""What correcting the load did to sessions it had not seen, and whether its intervals kept their word."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import scipy

from accuracy import charts
from accuracy.charts.calibration import BY_CHANCE
from accuracy.core.evaluation.folds import MOST_FITS, HeldOut
from accuracy.core.learning.leave_out import COVERAGES
from accuracy.report.columns import ACTIVITY
from accuracy.report.document import Cell, Column, Figure, Section, Table
from accuracy.report.evidence import PartPair, SensorEvidence
from accuracy.report.findings import Correction
from accuracy.services.wording import counted
from trainlog.web.words import signed

LEAST_PAIRS = 5
"""Pairs below which no curve of calibration is drawn (ours)."""

HELD_OUT_KEY = (
    ("tested", "as recorded"),
    ("corrected", "corrected, the session itself not learned from"),
    ("zero", "equal to the reference's"),
)
CALIBRATION_KEY = (
    ("corrected", "sessions that intervals held"),
    ("zero", "what they promise"),
    ("level-band", "where a kept promise stays by chance, 90%"),
)


def correction_finding(evidence: SensorEvidence) -> Correction | None:
    """What the correction did, for the summary; None where nothing was held out."""
    return _found(evidence.held_out) if evidence.held_out else None


def _found(held_out: Sequence[HeldOut]) -> Correction:
    before, after = (
        np.array([abs(100 * (getattr(one, name) - 1)) for one in held_out])
        for name in ("as_it_stands", "corrected")
    )
    return Correction(
        pairs=len(held_out),
        as_it_stands=float(before.mean()),
        corrected=float(after.mean()),
        nearer=int((after < before).sum()),
        held=sum(one.held() for one in held_out),
    )


def correction(evidence: SensorEvidence) -> Section:
    """Section on the correction and its calibration."""
    title = "Correction and its calibration"
    if not evidence.held_out:
        return Section(
            title,
            (
                "No pair could be held out: a correction is judged on a session after learning from others, "
                "and there are none to learn from.",
            ),
        )
    figures = [_held_out_figure(evidence)]
    if len(evidence.held_out) >= LEAST_PAIRS:
        figures.append(_calibration_figure(evidence))
    tables = [_errors(evidence), _coverage(evidence), _each(evidence)]
    return Section(title, tuple(_how(evidence)), tuple(tables), tuple(figures))


def _how(evidence: SensorEvidence) -> list[str]:
    pairs = evidence.foretold_pairs
    held = (
        f"sessions are dealt into {MOST_FITS} groups, and each group is"
        if pairs > MOST_FITS
        else "each session is"
    )
    return [
        "The program learns from pairs how far the tested load lies off and corrects sessions without a "
        f"strap. Here it is put to the test: {held} left out in turn, everything is learned anew from the "
        f"other sessions (there are {counted(pairs, 'pair')} in this log, those of other sensors among "
        "them), and the load that was left out is foretold from the tested trace and the rating of the "
        "session, if it has one.",
        "Errors are the size of the difference from the reference's load, in per cent of it. A correction "
        "learned from one person's habits holds for these habits.",
    ]


def _errors(evidence: SensorEvidence) -> Table:
    rows = [
        _error_row(activity, [part.held_out for part in parts if part.held_out is not None])
        for activity, parts in evidence.activities.items()
        if any(part.held_out is not None for part in parts)
    ]
    if len(rows) > 1:
        rows.append(_error_row("all", evidence.held_out))
    return Table(
        evidence.file("correction"),
        "Held-out error of the load, as it stands and corrected",
        (
            ACTIVITY,
            Column("pairs", "pairs", digits=0),
            Column("error as it stands", "error_as_it_stands_percent", "%", 1),
            Column("error corrected", "error_corrected_percent", "%", 1),
            Column("nearer after correction", "pairs_nearer", digits=0),
            Column("inside the 80% interval", "pairs_held_by_80_percent_interval", digits=0),
            Column("width of the 80% interval", "mean_width_of_80_percent_interval_percent", "%", 0),
        ),
        tuple(rows),
        "Errors are means over pairs. The width is the mean distance between the ends of the intervals, in "
        "per cent of the reference's load.",
    )


def _error_row(name: str, held_out: Sequence[HeldOut]) -> tuple[Cell, ...]:
    found = _found(held_out)
    width = float(np.mean([100 * (high - low) for low, high in (one.intervals[0.8] for one in held_out)]))
    return (name, found.pairs, found.as_it_stands, found.corrected, found.nearer, found.held, width)


def _coverage(evidence: SensorEvidence) -> Table:
    count = len(evidence.held_out)
    rows = []
    for wanted in COVERAGES:
        held = sum(one.held(wanted) for one in evidence.held_out)
        low, high = (int(end) for end in scipy.stats.binom(count, wanted).interval(BY_CHANCE))
        rows.append((100 * wanted, held, count, 100 * held / count, low, high))
    return Table(
        evidence.file("coverage"),
        f"How often intervals held the reference's load, of {counted(count, 'pair')}",
        (
            Column("meant to hold", "promised_percent", "%", 0),
            Column("held", "pairs_held", digits=0),
            Column("of", "pairs", digits=0),
            Column("held", "held_percent", "%", 0),
            Column("by chance from", "by_chance_low", "pairs", 0),
            Column("to", "by_chance_high", "pairs", 0),
        ),
        tuple(rows),
        "If intervals kept their promise, the count would lie in the range by chance nine times in ten.",
    )


def _each(evidence: SensorEvidence) -> Table:
    return Table(
        evidence.file("correction_by_session"),
        "Load of each pair against the reference's: as it stands, and as foretold from other sessions",
        (
            Column("session", "session"),
            ACTIVITY,
            Column("as it stands", "as_it_stands_percent", "%", 1),
            Column("corrected", "corrected_percent", "%", 1),
            Column("80% interval from", "corrected_low_percent", "%", 1),
            Column("to", "corrected_high_percent", "%", 1),
            Column("holds the reference's", "interval_holds"),
        ),
        tuple(
            (
                part.label,
                part.activity,
                *(100 * (value - 1) for value in (one.as_it_stands, one.corrected, *one.intervals[0.8])),
                "yes" if one.held() else "no",
            )
            for part in evidence.parts
            if (one := part.held_out) is not None
        ),
    )


def _held_out_figure(evidence: SensorEvidence) -> Figure:
    known = [(part, part.held_out) for part in evidence.parts if part.held_out is not None]
    drawn = [
        charts.SessionLoad(place, _name(part), one.as_it_stands, one.corrected)
        for place, (part, one) in zip(_places(evidence), known, strict=True)
    ]
    found = _found(evidence.held_out)
    said = ", ".join(
        f"{part.label}: {signed(100 * (one.as_it_stands - 1), 0)}% to {signed(100 * (one.corrected - 1), 0)}%"
        for part, one in known
    )
    return Figure(
        evidence.file("held_out_loads"),
        "Load against the reference's, as recorded and corrected by what other sessions teach",
        charts.session_loads(drawn),
        f"Load of {found.pairs} pairs against the reference's, as recorded and corrected, by session: "
        f"{said}. Mean absolute error {found.as_it_stands:.1f}% as recorded and {found.corrected:.1f}% "
        "corrected.",
        HELD_OUT_KEY,
    )


def _places(evidence: SensorEvidence) -> list[float]:
    """Place of each held-out pair along the axis: parts of a session stand side by side."""
    found = []
    for session in evidence.sessions:
        known = [part for part in session.parts if part.held_out is not None]
        found += [session.number + place / (2 * len(known)) for place in range(len(known))]
    return found


def _name(part: PartPair) -> str:
    return f"session {part.label}, {part.activity}"


def _calibration_figure(evidence: SensorEvidence) -> Figure:
    count = len(evidence.held_out)
    probabilities = np.array([one.probability for one in evidence.held_out])
    said = ", ".join(
        f"those of {100 * wanted:.0f}% held {sum(one.held(wanted) for one in evidence.held_out)} of {count}"
        for wanted in COVERAGES
    )
    return Figure(
        evidence.file("calibration"),
        f"How often intervals of every width held the reference's load, {counted(count, 'pair')}",
        charts.calibration({"held-out pairs": probabilities}, by_chance_of=count),
        f"Share of {count} held-out pairs inside central intervals of every width: {said}. On the diagonal "
        "intervals hold as often as they promise; above it they are wider than need be, below it too narrow.",
        CALIBRATION_KEY,
    )
