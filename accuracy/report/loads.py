"""Training load and recovery by either sensor, session by session."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from accuracy import charts
from accuracy.core.agreement.limits import limits_of_agreement
from accuracy.report.columns import filled, who
from accuracy.report.document import Cell, Column, Figure, Section, Table
from accuracy.report.evidence import PartPair, SensorEvidence, enough
from accuracy.report.findings import Estimate, Load
from trainlog.web.words import signed

LOAD_KEY = (("tested", "load of a session, as recorded"), ("zero", "equal to the reference's"))
LEVELS_KEY = (("bias", "mean ratio"), ("limit", "limits of agreement of the ratio, 95%"))


@dataclass(frozen=True)
class RatioLimits:
    """Mean and limits of ratios, all in per cent off equality."""

    mean: Estimate
    lower: float
    upper: float


def ratio_limits(ratios: Sequence[float]) -> RatioLimits | None:
    """Limits of agreement of ratios, made on their logarithms and brought back.

    Parameters
    ----------
    ratios : sequence of float
        Tested over reference, one a session.

    Returns
    -------
    RatioLimits or None
        None with fewer ratios than limits are given for.

    References
    ----------
    Bland JM, Altman DG (1986). Lancet 327(8476):307-310 (logarithms where differences grow with the size).
    """
    if not enough(len(ratios)):
        return None
    found = limits_of_agreement(np.log(np.asarray(ratios, dtype=float)))
    low, high = (_off(end) for end in found.bias_interval)
    return RatioLimits(Estimate(_off(found.bias), low, high), _off(found.lower), _off(found.upper))


def load_finding(ratios: Sequence[float]) -> Load | None:
    """Difference of loads over sessions for the summary; None where no session has a load."""
    if not ratios:
        return None
    limits = ratio_limits(ratios)
    middle = _off(float(np.mean(np.log(ratios))))
    lowest, highest = (100 * (extreme(ratios) - 1) for extreme in (min, max))
    return Load(len(ratios), limits.mean if limits else Estimate(middle), lowest, highest)


def loads(evidence: SensorEvidence) -> Section:
    """Section on load and recovery."""
    ratios = evidence.load_ratios
    if not ratios:
        return Section(
            "Load and recovery",
            ("No session has a load to compare: it needs resting and maximum heart rate, and work.",),
        )
    limits = ratio_limits(ratios)
    said = [
        "Load is Banister's training impulse over the seconds that both sensors have, by heart-rate reserve. "
        "Recovery is the middle of an estimated range of hours until the next hard session, which rests on "
        "few published ranges: its difference says what the sensor's error does to such an estimate, not how "
        "long anybody needs."
    ]
    if limits:
        said.append(
            f"Over {len(ratios)} sessions the tested load differs from the reference's by "
            f"{signed(limits.mean.value)}% on average (geometric mean; 95% interval "
            f"{signed(limits.mean.low)}% to {signed(limits.mean.high)}%), with 95% limits of agreement from "
            f"{signed(limits.lower)}% to {signed(limits.upper)}% for a single session."
        )
    return Section("Load and recovery", tuple(said), (_table(evidence),), (_figure(evidence, limits),))


def load_cells(part: PartPair) -> list[tuple[Column, Cell]]:
    """Load and recovery of one pair, with their columns."""
    reference, tested = part.loads or (None, None)
    hours = part.recovery
    return [
        (Column("load, reference", "reference_load_trimp", "TRIMP", 1), reference),
        (Column("load, tested", "tested_load_trimp", "TRIMP", 1), tested),
        (Column("difference", "load_difference_percent", "%", 1), part.load_difference),
        (
            Column("recovery, reference", "reference_recovery_hours", "h", 0),
            hours.reference.median if hours else None,
        ),
        (Column("recovery, tested", "tested_recovery_hours", "h", 0), hours.tested.median if hours else None),
        (
            Column("difference", "recovery_difference_hours", "h", 0),
            hours.difference.median if hours else None,
        ),
    ]


def _table(evidence: SensorEvidence) -> Table:
    return filled(
        evidence.file("load_and_recovery"),
        "Load and recovery of each session, by either sensor",
        [[*who(part), *load_cells(part)] for part in evidence.parts],
        "TRIMP: Banister's training impulse, in arbitrary units. A dash stands where the reference's load is "
        "too small to compare.",
    )


def _figure(evidence: SensorEvidence, limits: RatioLimits | None) -> Figure:
    drawn = [
        charts.SessionLoad(session.number, session.name, ratio)
        for session in evidence.sessions
        if (ratio := session.load_ratio) is not None
    ]
    band = (
        charts.Band(1 + limits.lower / 100, 1 + limits.mean.value / 100, 1 + limits.upper / 100)
        if limits
        else None
    )
    said = ", ".join(f"{one.place}: {signed(100 * (one.ratio - 1), 0)}%" for one in drawn)
    levels = (
        f" Mean {signed(limits.mean.value)}%, limits of agreement {signed(limits.lower)}% and "
        f"{signed(limits.upper)}%."
        if limits
        else ""
    )
    return Figure(
        evidence.file("load_ratios"),
        "Tested load against the reference's, session by session, on a log scale",
        charts.session_loads(drawn, band),
        f"Load of {len(drawn)} sessions against the reference's, by session number: {said}.{levels}",
        LOAD_KEY + (LEVELS_KEY if limits else ()),
    )


def _off(log_ratio: float) -> float:
    """Per cent that a log ratio is off equality."""
    return 100 * (math.exp(log_ratio) - 1)
