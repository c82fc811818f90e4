"""Agreement by kind of work, by intensity and by direction of change."""

from __future__ import annotations

from collections.abc import Sequence

from accuracy import charts
from accuracy.core.agreement.conditions import CHANGE_BPM, CHANGE_SECONDS, INTENSITY_BANDS
from accuracy.core.agreement.pooled import PooledAgreement
from accuracy.core.agreement.pooled_conditions import PooledCondition
from accuracy.report.columns import (
    ACTIVITY,
    BIAS,
    BIAS_HIGH,
    BIAS_LOW,
    CLOSE,
    LOWER,
    MEAN_ERROR,
    PERCENT_ERROR,
    SD,
    SESSIONS,
    UPPER,
    ends,
    known,
    minutes,
    per_cent,
)
from accuracy.report.document import Cell, Column, Figure, Section, Table
from accuracy.report.evidence import PartPair, SensorEvidence, by_session, enough
from accuracy.report.findings import Estimate, Work
from accuracy.report.loads import load_finding
from trainlog.web.words import signed

BIAS_KEY = (
    ("session", "bias"),
    ("bias", "its 95% interval over sessions"),
    ("zero", "no difference"),
)
OWN_KEY = (("epoch", "a session's own bias"),)


def work_findings(evidence: SensorEvidence) -> list[Work]:
    """Bias and load of each activity, for the summary."""
    found = []
    for activity, parts in evidence.activities.items():
        pooled = evidence.pooled_on(activity)
        if pooled is not None:
            bias, load = pooled.figures["bias"], load_finding(load_ratios(parts))
            own = Estimate(bias.value, known(bias.low), known(bias.high))
            found.append(Work(activity, pooled.sessions, own, load.mean if load else None))
    return found


def load_ratios(parts: Sequence[PartPair]) -> list[float]:
    """Tested over reference load of each session, of these parts of it."""
    return [
        sum(loads[1] for loads in known_ones) / sum(loads[0] for loads in known_ones)
        for own in by_session(parts)
        if (known_ones := [part.loads for part in own if part.loads and part.load_ratio is not None])
    ]


def by_work(evidence: SensorEvidence) -> Section:
    """Section by activity."""
    known_ones = {
        activity: pooled
        for activity in evidence.activities
        if (pooled := evidence.pooled_on(activity)) is not None
    }
    said = (
        "Each kind of work by itself, its sessions the sample. Intervals and limits are given from three "
        "sessions on. With many kinds and few sessions of each, some will differ by chance."
    )
    rows = [_work_row(evidence.activities[activity], pooled) for activity, pooled in known_ones.items()]
    table = Table(
        evidence.file("by_activity"),
        "Agreement of heart rate by kind of work",
        (
            ACTIVITY,
            SESSIONS,
            minutes("in common", "common"),
            BIAS,
            BIAS_LOW,
            BIAS_HIGH,
            LOWER,
            UPPER,
            MEAN_ERROR,
            PERCENT_ERROR,
        ),
        tuple(rows),
    )
    drawn = [
        charts.ConditionBias(
            f"{activity} ({pooled.sessions})",
            pooled.figures["bias"].value,
            known(pooled.figures["bias"].low),
            known(pooled.figures["bias"].high),
            [float(one) for one in pooled.session_biases],
        )
        for activity, pooled in known_ones.items()
    ]
    figure = Figure(
        evidence.file("bias_by_activity"),
        "Bias by kind of work, with the number of sessions",
        charts.biases(drawn),
        f"Bias by kind of work, in bpm: {_in_words(drawn)}.",
        BIAS_KEY + OWN_KEY,
    )
    tables = [one for one in (table, _loads(evidence)) if one.rows]
    return Section("By kind of work", (said,), tuple(tables), (figure,))


def _loads(evidence: SensorEvidence) -> Table:
    """Difference of loads by kind of work."""
    rows: list[tuple[Cell, ...]] = []
    for activity, parts in evidence.activities.items():
        load = load_finding(load_ratios(parts))
        if load:
            ends_of_range = (load.lowest, load.highest) if load.sessions > 1 else (None, None)
            mean = load.mean
            rows.append(
                (activity, parts[0].family, load.sessions, mean.value, mean.low, mean.high, *ends_of_range)
            )
    return Table(
        evidence.file("load_by_activity"),
        "Difference of the tested load from the reference's by kind of work",
        (
            ACTIVITY,
            Column("kind", "family"),
            SESSIONS,
            Column("mean", "load_difference_percent", "%", 1),
            Column("95% interval from", "load_difference_interval_low_percent", "%", 1),
            Column("to", "load_difference_interval_high_percent", "%", 1),
            Column("lowest", "load_difference_lowest_percent", "%", 0),
            Column("highest", "load_difference_highest_percent", "%", 0),
        ),
        tuple(rows),
        "The mean is geometric, over sessions.",
    )


def _work_row(parts: Sequence[PartPair], pooled: PooledAgreement) -> tuple[Cell, ...]:
    figures = pooled.figures
    limits: tuple[Cell, ...] = (None, None)
    if enough(pooled.sessions):
        limits = (known(figures["lower_limit"].value), known(figures["upper_limit"].value))
    return (
        parts[0].activity,
        pooled.sessions,
        sum(part.common_minutes for part in parts),
        *ends(figures["bias"]),
        *limits,
        known(figures["mean_absolute_error"].value),
        known(figures["mean_absolute_percentage_error"].value),
    )


def by_condition(evidence: SensorEvidence) -> Section:
    """Section by intensity and by direction of change."""
    title = "By intensity and direction"
    if not evidence.by_intensity:
        return Section(title, ("Resting and maximum heart rate are not known, and so no intensity is.",))
    half = CHANGE_SECONDS // 2
    said = (
        "Every second counts for the band of heart-rate reserve in which the reference lies, and for whether "
        f"the reference rises or falls by {CHANGE_BPM:.0f} bpm and more from {half} s before to {half} s "
        "after. A sensor that follows late reads low while the rate rises and high while it falls.",
    )
    bands = {name: _edges(low, high) for name, low, high in INTENSITY_BANDS}
    return Section(
        title,
        said,
        (
            _table(
                evidence,
                "by_intensity",
                "Agreement by intensity of the reference",
                evidence.by_intensity,
                bands,
            ),
            _table(evidence, "by_direction", "Agreement by direction of change", evidence.by_direction, {}),
        ),
        (
            _figure(
                evidence, "bias_by_intensity", "Bias by intensity of the reference", evidence.by_intensity
            ),
            _figure(evidence, "bias_by_direction", "Bias by direction of change", evidence.by_direction),
        ),
    )


def _edges(low: float, high: float) -> str:
    if low < 0:
        return f"under {high:.0f}%"
    return f"{low:.0f}–{high:.0f}%" if high < 1000 else f"{low:.0f}% and over"


def _table(
    evidence: SensorEvidence,
    name: str,
    caption: str,
    rows: Sequence[PooledCondition],
    edges: dict[str, str],
) -> Table:
    first = (
        (Column("intensity", "intensity"), Column("heart-rate reserve", "heart_rate_reserve"))
        if edges
        else (Column("the reference is", "direction"),)
    )
    return Table(
        evidence.file(name),
        caption,
        (
            *first,
            SESSIONS,
            minutes("time", "time"),
            BIAS,
            BIAS_LOW,
            BIAS_HIGH,
            SD,
            MEAN_ERROR,
            PERCENT_ERROR,
            CLOSE,
        ),
        tuple(
            (
                row.condition,
                *((edges[row.condition],) if edges else ()),
                row.sessions,
                row.seconds / 60,
                known(row.bias),
                known(row.bias_low),
                known(row.bias_high),
                known(row.sd),
                known(row.mean_absolute_error),
                known(row.mean_absolute_percentage_error),
                per_cent(row.share_within_either),
            )
            for row in rows
        ),
        "Second by second. Seconds that both sensors have count alike; intervals are over sessions.",
    )


def _figure(evidence: SensorEvidence, name: str, caption: str, rows: Sequence[PooledCondition]) -> Figure:
    drawn = [
        charts.ConditionBias(
            f"{row.condition} ({row.seconds / 60:.0f} min)",
            row.bias,
            known(row.bias_low),
            known(row.bias_high),
        )
        for row in rows
        if row.seconds
    ]
    return Figure(
        evidence.file(name),
        f"{caption}, with the time in each",
        charts.biases(drawn),
        f"{caption}, in bpm: {_in_words(drawn)}.",
        BIAS_KEY,
    )


def _in_words(drawn: Sequence[charts.ConditionBias]) -> str:
    return "; ".join(
        f"{one.name} {signed(one.bias)}"
        + (f" (95% interval {signed(one.low)} to {signed(one.high)})" if one.low is not None else "")
        for one in drawn
    )
