"""What the correction is held to on simulated athletes, with the slack that their number asks for."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from accuracy.core.evaluation.held_out import AS_IT_STANDS, PUBLISHED

CONSTANT = "constant"

SPREADING = 0.15
"""Mean standard deviation of the log ratio between an athlete's sessions from which a family is said to
spread."""

NOMINAL = 0.8
"""Coverage that the intervals promise."""

PAIRS = 8
"""Pairs a cell at which most bars are set."""


@dataclass(frozen=True)
class Bar:
    """One bar.

    Attributes
    ----------
    name : str
    value, error : float
        What was measured, and its standard error over athletes.
    low, high : float
        Where it should lie.
    """

    name: str
    value: float
    error: float
    low: float
    high: float

    @property
    def holds(self) -> bool:
        """Whether the value lies where it should."""
        return self.low <= self.value <= self.high

    @property
    def broken(self) -> bool:
        """Whether it lies outside by more than chance (two standard errors) would put it."""
        return not self.low - 2 * self.error <= self.value <= self.high + 2 * self.error


def _by_athlete(rows: pd.DataFrame, value: str) -> pd.DataFrame:
    """Means of each athlete, columns methods."""
    return rows.pivot_table(index="athlete", columns="method", values=value, aggfunc="mean")


def _error_of_mean(values: pd.Series) -> float:
    return float(values.std() / np.sqrt(len(values)))


def _ratio(name: str, above: pd.Series, below: pd.Series, high: float) -> Bar:
    """Bar on a ratio of means over the same athletes; its error by the delta method."""
    above, below = above.align(below, join="inner")
    ratio = float(above.mean() / below.mean())
    error = _error_of_mean(above - ratio * below) / float(below.mean())
    return Bar(name, ratio, error, 0.0, high)


def _coverage(name: str, rows: pd.DataFrame, low: float, high: float) -> Bar:
    covered = rows.groupby("athlete")["covers_80"].mean() * 100
    # Where by chance every athlete is alike, the spread between them says nothing of the error.
    least = 100 * np.sqrt(NOMINAL * (1 - NOMINAL) / len(rows))
    return Bar(name, float(covered.mean()), max(_error_of_mean(covered), least), low, high)


def log_ratio_spread(rows: pd.DataFrame) -> pd.Series:
    """Mean over athletes of the SD between sessions of the log ratio, by family."""
    stands = rows[(rows["method"] == AS_IT_STANDS) & (rows["pairs"] == rows["pairs"].max())]
    return stands.groupby(["family", "athlete"])["log_error"].std().groupby("family").mean()


def error_bars(rows: pd.DataFrame, *, broad: bool) -> list[Bar]:
    """Bars on errors of one setting: against raw and constant, and against the same method with 100 pairs."""
    setting = "broad" if broad else "narrow"
    rows = rows.assign(size=rows["error"].abs())
    spread = log_ratio_spread(rows)
    bars = []
    for family, of_family in rows.groupby("family"):
        at_eight = _by_athlete(of_family[of_family["pairs"] == PAIRS], "size")
        rival = min((AS_IT_STANDS, CONSTANT), key=lambda method: at_eight[method].mean())
        excess = at_eight[PUBLISHED] - at_eight[rival]
        most = max(0.5, 2 * _error_of_mean(excess))
        bars.append(
            Bar(
                f"{setting}, {family}: error at 8 pairs above the better of raw and constant, points",
                float(excess.mean()),
                _error_of_mean(excess),
                -np.inf,
                most,
            )
        )
        if spread[family] <= SPREADING:
            continue
        against = _ratio(
            f"{setting}, {family} (log ratio spreads by {spread[family]:.2f}): error against constant",
            at_eight[PUBLISHED],
            at_eight[CONSTANT],
            1.0 if broad else 0.75,
        )
        bars.append(against)
        many = of_family[of_family["pairs"] == 100]
        if len(many):
            bars.append(
                _ratio(
                    f"{setting}, {family}: error at 8 pairs against 100",
                    at_eight[PUBLISHED],
                    _by_athlete(many, "size")[PUBLISHED],
                    1.3,
                )
            )
    return bars


def coverage_bars(rows: pd.DataFrame, sums: pd.DataFrame, *, broad: bool) -> list[Bar]:
    """Bars on the coverage of 80% intervals, of sessions and of sums of 13 weeks."""
    setting = "broad" if broad else "narrow"
    bars = []
    for pairs, overall, family_low, family_high in ((8, (76, 86), 70, 90), (2, (70, 92), 60, 100)):
        shown = rows[(rows["method"] == PUBLISHED) & (rows["pairs"] == pairs)]
        if not len(shown):
            continue
        bars.append(_coverage(f"{setting}, {pairs} pairs: coverage overall, %", shown, *overall))
        bars += [
            _coverage(
                f"{setting}, {pairs} pairs: coverage in {family}, %", of_family, family_low, family_high
            )
            for family, of_family in shown.groupby("family")
        ]
        of_sums = sums[(sums["method"] == PUBLISHED) & (sums["pairs"] == pairs)]
        bars.append(_coverage(f"{setting}, {pairs} pairs: coverage of 13-week sums, %", of_sums, 74, 90))
    return bars


def spoiled_bars(clean: pd.DataFrame, spoiled: pd.DataFrame) -> list[Bar]:
    """Bars on runs with dry straps and drop-outs switched on, against the clean run."""
    shown = [
        rows[(rows["method"] == PUBLISHED) & (rows["pairs"] == PAIRS)].assign(
            size=lambda one: one["error"].abs()
        )
        for rows in (clean, spoiled)
    ]
    before, after = (rows.groupby("athlete")["size"].mean() for rows in shown)
    return [
        _ratio("dry straps and drop-outs: error against the clean run", after, before, 1.3),
        _coverage("dry straps and drop-outs: coverage, %", shown[1], 74, 100),
    ]
