"""What the page of one pair shows."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from accuracy import charts, words
from accuracy.core.agreement.agreement_charts import difference_plot, identity_density
from accuracy.core.agreement.differences import EPOCHS, effective_size, paired_epochs
from accuracy.core.agreement.regression_limits import RegressionLimits, regression_limits
from accuracy.models import Pair
from accuracy.services.pair_report import ReportedPair, report_of
from accuracy.services.pooled_agreement import SHOWN_EPOCH
from accuracy.shown import condition_lines, figures, practice
from trainlog.trace import FloatArray

FEWEST_FOR_SLOPE = 10
"""Epochs below which no limits are drawn that change with the rate (ours)."""


@dataclass(frozen=True)
class FaultLine:
    """Share of the part's time under one reason, in each trace; None where the reason does not occur."""

    meaning: str
    reference: float | None
    tested: float | None


def epoch_of(asked: str | None) -> int:
    """Length of an epoch asked for, or the usual one."""
    return int(asked) if asked in {str(seconds) for seconds in EPOCHS} else SHOWN_EPOCH


def pair_page(pair: Pair, epoch: int) -> dict[str, Any]:
    """Everything on the page but the pair itself.

    Parameters
    ----------
    pair : Pair
        One of ``pair_report.pairs_of``.
    epoch : int
        Seconds of an epoch.
    """
    found = report_of(pair, (epoch,))
    context: dict[str, Any] = {
        "pair": pair,
        "epoch": epoch,
        "epochs": EPOCHS,
        "faults": _faults(found),
        "firmware": pair.tested.sensor.firmware_on(pair.part.workout.day) if pair.tested.sensor else "",
        "physiology": found.physiology,
    }
    if found.report is None:
        return context
    agreement = found.report.by_epoch.get(epoch)
    by_epoch = agreement.as_dict() if agreement else {}
    by_second = {**pair.agreement, **by_epoch}
    sloped = sloped_limits(found.reference, found.tested, epoch) if _out_of_proportion(by_epoch) else None
    traces = [(found.reference, found.tested)]
    means = (float(np.nanmean(found.reference)), float(np.nanmean(found.tested)))
    context |= {
        "agreement": by_epoch,
        "reading": figures.reads(agreement.bias) if agreement else "",
        "overlay": charts.overlay(found.reference, found.tested, _flagged(found)),
        "density": charts.identity_density(identity_density(traces).as_dict(), epoch_seconds=1),
        "by_intensity": condition_lines.lines([row.as_dict() for row in found.report.by_intensity]),
        "by_direction": condition_lines.lines([row.as_dict() for row in found.report.by_direction]),
    }
    if agreement:
        own = figures.of_pair(by_epoch)
        context |= {
            "sloped": sloped,
            "differences": charts.differences(
                difference_plot(traces, epoch_seconds=epoch).as_dict(),
                levels(own),
                sloped=sloped,
                epoch_seconds=epoch,
            ),
            "families": [
                practice.of_pair(by_second, found.report.load_difference, found.lag, means, found.recovery),
                *figures.families(own, pooled=False, slopes=slope_rows(sloped)),
            ],
        }
    return context


def levels(own: figures.Figures) -> list[charts.Level]:
    """Bias and limits of agreement for the difference plot."""
    named = (("bias", "bias"), ("lower_limit", "lower limit"), ("upper_limit", "upper limit"))
    found = [(words_, own.get(name, figures.Figure(None))) for name, words_ in named]
    return [
        charts.Level(words_, figure.value, figure.low, figure.high)
        for words_, figure in found
        if figure.value is not None
    ]


def sloped_limits(reference: FloatArray, tested: FloatArray, epoch: int) -> RegressionLimits | None:
    """Limits that change with the rate, where the difference's slope on it is not zero; else None.

    Judged on epochs of at least 30 s like the core's other slopes, and by the slope's interval widened for
    epochs that repeat each other.
    """
    x, y = paired_epochs(reference, tested, max(epoch, 30))
    known = np.isfinite(x)
    x, y = x[known], y[known]
    if len(x) < FEWEST_FOR_SLOPE or np.ptp(x + y) < 1e-6:
        return None
    found = regression_limits(x, y)
    low, high = found.slope_interval
    independent = effective_size(y - x - found.intercept - found.slope * (x + y) / 2)
    reach = (high - low) / 2 * math.sqrt(len(x) / independent)
    return found if abs(found.slope) > reach else None


def slope_rows(sloped: RegressionLimits | None) -> list[figures.Row]:
    """Limits at the lowest, the middle and the highest rate they were found on."""
    if sloped is None:
        return []
    rates = np.linspace(sloped.lowest, sloped.highest, 3).round()
    lower, _, upper = sloped.at(rates)
    return figures.limits_at(list(rates), list(np.asarray(lower)), list(np.asarray(upper)))


def _out_of_proportion(agreement: Mapping[str, Any]) -> bool:
    """Whether Deming's slope is shown not to be 1.

    The difference's slope on the mean leans with a single bad stretch, which moves both; Deming's interval,
    which leaves out epochs in turn, grows wide there instead.
    """
    low, high = agreement.get("deming_slope_low"), agreement.get("deming_slope_high")
    return low is not None and high is not None and not low <= 1 <= high


def _flagged(found: ReportedPair) -> Sequence[charts.FlaggedStretch]:
    seconds = len(found.reference)
    return [
        charts.FlaggedStretch(one.role, max(one.begins, 0), min(one.ends, seconds), words.meaning(one.reason))
        for one in found.flagged
        if one.ends > 0 and one.begins < seconds
    ]


def _faults(found: ReportedPair) -> list[FaultLine]:
    if found.report is None:
        return []
    reference, tested = found.report.reference_faults, found.report.tested_faults
    return [
        FaultLine(words.meaning(reason), reference.get(reason), tested.get(reason))
        for reason in dict.fromkeys([*reference, *tested])
    ]
