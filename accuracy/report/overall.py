"""Agreement of heart rate over all sessions: difference plot, identity density, tables."""

from __future__ import annotations

from collections.abc import Sequence

from accuracy import charts
from accuracy.core.agreement.agreement_charts import difference_plot, identity_density
from accuracy.core.agreement.differences import EPOCHS
from accuracy.core.agreement.pooled import Figure as PooledFigure
from accuracy.core.agreement.pooled import PooledAgreement
from accuracy.core.agreement.regression_limits import RegressionLimits
from accuracy.report.columns import (
    BIAS,
    BIAS_HIGH,
    BIAS_LOW,
    LOWER,
    MEAN_ERROR,
    PERCENT_ERROR,
    UPPER,
    ends,
    known,
)
from accuracy.report.document import Cell, Column, Figure, Section, Table
from accuracy.report.evidence import PartPair, SensorEvidence, enough
from accuracy.services.pooled_agreement import SHOWN_EPOCH
from trainlog.web.words import signed

MOST_POINTS = 1500
"""Epochs drawn in the difference plot at most."""

LIMITS = {"lower_limit", "upper_limit", "sd", "between_sd", "within_sd"}
"""Figures that are not given with too few sessions."""

IN_BPM = {
    "bias": "bias (mean difference)",
    "sd": "standard deviation of a difference",
    "between_sd": "… between sessions",
    "within_sd": "… within a session",
    "lower_limit": "lower limit of agreement",
    "upper_limit": "upper limit of agreement",
    "mean_absolute_error": "mean absolute error",
    "root_mean_squared_error": "root mean squared error",
    "reference_mean": "mean heart rate, reference",
    "tested_mean": "mean heart rate, tested",
}
IN_PER_CENT = {
    "mean_absolute_percentage_error": ("mean absolute percentage error", 1.0),
    "share_within_5_bpm": ("epochs within 5 bpm", 100.0),
    "share_within_10_percent": ("epochs within 10%", 100.0),
    "share_within_either": ("epochs within 10% or 5 bpm, whichever is wider", 100.0),
}
LIKENESS = {
    "pearson_r": "correlation (Pearson), all epochs",
    "repeated_measures_r": "correlation within sessions (repeated measures)",
    "concordance": "concordance (Lin)",
    "icc_2_1": "intraclass correlation ICC(2,1)",
    "least_products_slope": "slope by least products",
    "deming_slope": "slope by Deming's regression",
}

DIFFERENCE_KEY = (
    ("epoch", f"an epoch of {SHOWN_EPOCH} s"),
    ("session", "mean of a session"),
    ("bias", "bias"),
    ("limit", "limits of agreement, 95%"),
    ("level-band", "95% intervals of bias and limits, over sessions"),
)
SLOPED_KEY = (("slope", "bias and limits that change with the rate"),)


def agreement(evidence: SensorEvidence) -> Section:
    """Section on the agreement of heart rate over all sessions."""
    pooled = evidence.pooled()
    if pooled is None:
        return Section("Agreement of heart rate", ("No session has two epochs in common to compare.",))
    return Section(
        "Agreement of heart rate",
        (_read_this(pooled),),
        (_figures(evidence, pooled), _likeness(evidence, pooled), _by_epoch(evidence)),
        (_differences(evidence, pooled), _density(evidence)),
    )


def sloped_limits(pooled: PooledAgreement) -> RegressionLimits | None:
    """Limits that change with the rate, where the sessions show that the bias does; else None."""
    slope = pooled.figures["regression_slope"]
    low, high = known(slope.low), known(slope.high)
    if low is None or high is None or low <= 0 <= high:
        return None
    numbers = (
        pooled.regression_limits.spread_intercept,
        pooled.regression_limits.spread_slope,
        pooled.regression_limits.intercept,
    )
    return pooled.regression_limits if all(known(one) is not None for one in numbers) else None


def _read_this(pooled: PooledAgreement) -> str:
    said = (
        "The limits of agreement are Bland and Altman's for repeated measures where the true value varies: "
        "bias ± 1.96 standard deviations, with the spread between sessions and that within them. "
    )
    if enough(pooled.sessions):
        said += (
            "Their intervals leave out one session at a time, so they speak of further sessions of the same "
            "person. "
        )
    else:
        said += (
            f"With {pooled.sessions} session{'s' if pooled.sessions > 1 else ''} they are not given: how "
            "sessions differ is not known. "
        )
    return said + (
        "Correlation says whether both rise and fall together and ignores bias: it is here because readers "
        "look for it, and nothing rests on it."
    )


def _figures(evidence: SensorEvidence, pooled: PooledAgreement) -> Table:
    rows: list[tuple[Cell, ...]] = []
    for name, words in IN_BPM.items():
        figure = pooled.figures[name]
        if name not in LIMITS or enough(pooled.sessions):
            rows.append((words, *ends(figure), "bpm"))
    for name, (words, factor) in IN_PER_CENT.items():
        figure = pooled.figures[name]
        scaled = PooledFigure(factor * figure.value, factor * figure.low, factor * figure.high)
        rows.append((words, *ends(scaled), "%"))
    slope = pooled.figures["regression_slope"]
    tens = PooledFigure(10 * slope.value, 10 * slope.low, 10 * slope.high)
    rows.append(("change of the bias per 10 bpm of heart rate", *ends(tens), "bpm"))
    return Table(
        evidence.file("agreement"),
        f"Agreement of heart rate over {pooled.sessions} sessions, {pooled.epochs} epochs of "
        f"{pooled.epoch_seconds} s",
        (
            Column("figure", "figure"),
            Column("value", "value", digits=1),
            Column("95% interval from", "interval_low", digits=1),
            Column("to", "interval_high", digits=1),
            Column("unit", "unit"),
        ),
        tuple(rows),
        "Tested minus reference. The sessions are the sample of every interval. Within 10% or 5 bpm is a "
        "tolerance for heart-rate meters attributed to ANSI/AAMI EC13 (from memory).",
    )


def _likeness(evidence: SensorEvidence, pooled: PooledAgreement) -> Table:
    rows: list[tuple[Cell, ...]] = [(words, *ends(pooled.figures[name])) for name, words in LIKENESS.items()]
    ranks = pooled.passing_bablok
    rows.append(
        (
            "slope by Passing and Bablok's regression",
            known(ranks.slope),
            *(known(end) for end in ranks.slope_interval),
        )
    )
    return Table(
        evidence.file("likeness"),
        "Correlation, concordance and slopes over the sessions",
        (
            Column("figure", "figure"),
            Column("value", "value", digits=3),
            Column("95% interval from", "interval_low", digits=3),
            Column("to", "interval_high", digits=3),
        ),
        tuple(rows),
        "Slopes are of the tested on the reference rate, bpm per bpm: 1 is in proportion.",
    )


def _by_epoch(evidence: SensorEvidence) -> Table:
    rows = []
    for seconds in EPOCHS:
        pooled = evidence.pooled(seconds)
        if pooled is not None:
            figures = pooled.figures
            limits: tuple[Cell, ...] = (None, None)
            if enough(pooled.sessions):
                limits = (known(figures["lower_limit"].value), known(figures["upper_limit"].value))
            rows.append(
                (
                    seconds,
                    pooled.epochs,
                    *ends(figures["bias"]),
                    *limits,
                    known(figures["mean_absolute_error"].value),
                    known(figures["mean_absolute_percentage_error"].value),
                )
            )
    return Table(
        evidence.file("by_epoch_length"),
        "The same at other lengths of an epoch",
        (
            Column("epoch", "epoch_seconds", "s", 0),
            Column("epochs", "epochs", digits=0),
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


def _differences(evidence: SensorEvidence, pooled: PooledAgreement) -> Figure:
    traces = [session.traces for session in evidence.sessions]
    points = difference_plot(traces, epoch_seconds=SHOWN_EPOCH, most=MOST_POINTS).as_dict()
    levels = _levels(pooled)
    sloped = sloped_limits(pooled)
    marks = [
        charts.SessionMark("", (x + y) / 2, y - x, session.name)
        for session in evidence.sessions
        for x, y in [_means(session.parts)]
    ]
    spec = charts.differences(points, levels, sloped=sloped, sessions=marks, epoch_seconds=SHOWN_EPOCH)
    key = DIFFERENCE_KEY if enough(pooled.sessions) else DIFFERENCE_KEY[:3]
    drawn = len(points["mean_bpm"])
    shown = f"{drawn} of the {points['of_epochs']} epochs, spread evenly, are drawn."
    said = ", ".join(_level_in_words(level) for level in levels)
    lowest, highest = (extreme(mark.difference for mark in marks) for extreme in (min, max))
    return Figure(
        evidence.file("difference_plot"),
        f"Difference plot: tested minus reference against the mean of both. {shown}",
        spec,
        f"Difference plot over {pooled.sessions} sessions, in bpm: {said}. Mean differences of the sessions "
        f"lie between {signed(lowest)} and {signed(highest)} bpm. {shown}" + _sloped_in_words(sloped),
        key + (SLOPED_KEY if sloped else ()),
    )


def _means(parts: Sequence[PartPair]) -> tuple[float, float]:
    """Mean reference and tested rate of a session, its parts by their common seconds."""
    seconds = sum(part.pair.common_seconds for part in parts)
    x, y = (sum(part.means[side] * part.pair.common_seconds for part in parts) / seconds for side in (0, 1))
    return x, y


def _levels(pooled: PooledAgreement) -> list[charts.Level]:
    names = {"bias": "bias", "lower_limit": "lower limit", "upper_limit": "upper limit"}
    return [
        charts.Level(words, figure.value, known(figure.low), known(figure.high))
        for name, words in names.items()
        if (figure := pooled.figures[name]) and (name == "bias" or enough(pooled.sessions))
    ]


def _level_in_words(level: charts.Level) -> str:
    if level.low is None or level.high is None:
        return f"{level.name} {signed(level.value)}"
    return f"{level.name} {signed(level.value)} (95% interval {signed(level.low)} to {signed(level.high)})"


def _sloped_in_words(sloped: RegressionLimits | None) -> str:
    if sloped is None:
        return ""
    said = []
    for rate in (sloped.lowest, sloped.highest):
        lower, bias, upper = (float(one) for one in sloped.at(rate))
        said.append(
            f"at {rate:.0f} bpm the bias is {signed(bias)} with limits {signed(lower)} and {signed(upper)}"
        )
    return f" Where limits may change with the rate, {said[0]}, {said[1]} bpm."


def _density(evidence: SensorEvidence) -> Figure:
    found = identity_density([session.traces for session in evidence.sessions]).as_dict()
    apart = [abs(x - y) for x, y in zip(found["reference_bpm"], found["tested_bpm"], strict=True)]
    total = sum(found["epochs"])
    near = sum(count for gap, count in zip(apart, found["epochs"], strict=True) if gap <= found["cell_bpm"])
    rates = found["reference_bpm"]
    return Figure(
        evidence.file("identity_density"),
        "Tested against reference heart rate, second by second: the darker a cell, the more time",
        charts.identity_density(found, epoch_seconds=1, with_pointer=False),
        f"Identity density of {total} seconds over {len(evidence.sessions)} sessions, in cells of "
        f"{found['cell_bpm']} bpm. {100 * near / total:.0f}% of the time lies in cells on the line on which "
        f"both read the same or beside it. The reference lies between {min(rates):.0f} and "
        f"{max(rates) + found['cell_bpm']:.0f} bpm.",
        (("density", "time, by its logarithm"), ("identity", "both read the same")),
    )
