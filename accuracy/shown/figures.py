"""Agreement figures as pages show them: families of rows, each with its unit, interval and explanation."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from accuracy.core.agreement.differences import correlation_band
from trainlog.web.words import DASH, signed


@dataclass(frozen=True)
class Figure:
    """A figure with its interval; None where it is not known."""

    value: float | None
    low: float | None = None
    high: float | None = None


@dataclass(frozen=True)
class Row:
    """One line of a table of figures, all in words."""

    label: str
    value: str
    unit: str = ""
    interval: str = ""
    note: str = ""


@dataclass(frozen=True)
class Family:
    """Figures that answer one question, and a sentence on how to read them."""

    title: str
    explanation: str
    rows: Sequence[Row]
    interval: str = "95% interval"

    @property
    def has_intervals(self) -> bool:
        """Whether any row has one."""
        return any(row.interval for row in self.rows)


Figures = Mapping[str, Figure]
Format = Callable[[float], str]


def of_pair(agreement: Mapping[str, Any]) -> dict[str, Figure]:
    """Figures of one pair, whose intervals stand beside them as ``…_low`` and ``…_high``."""
    found = {
        name: Figure(value, agreement.get(f"{name}_low"), agreement.get(f"{name}_high"))
        for name, value in agreement.items()
        if not name.endswith(("_low", "_high")) and (value is None or isinstance(value, (int, float)))
    }
    ends = (agreement.get("equivalence_low"), agreement.get("equivalence_high"))
    return found | {"equivalence": Figure(agreement.get("equivalence_p"), *ends)}


def of_pooled(agreement: Mapping[str, Any]) -> dict[str, Figure]:
    """Figures over sessions, each a value with its interval or a plain count."""
    found = {}
    for name, value in agreement.items():
        if isinstance(value, Mapping) and "value" in value:
            found[name] = Figure(value["value"], value.get("low"), value.get("high"))
        elif value is None or isinstance(value, (int, float)):
            found[name] = Figure(value)
    ranks = agreement.get("passing_bablok") or {}
    found["passing_bablok_slope"] = Figure(ranks.get("slope"), *(ranks.get("slope_interval") or (None, None)))
    equivalence = agreement.get("equivalence") or {}
    found["equivalence"] = Figure(equivalence.get("p"), *(equivalence.get("interval") or (None, None)))
    found["equivalence_margin"] = Figure(equivalence.get("margin"))
    return found


def families(figures: Figures, *, pooled: bool, slopes: Sequence[Row] = ()) -> list[Family]:
    """All families of a pair, or of several sessions.

    Parameters
    ----------
    figures : mapping of str to Figure
        By the core's names.
    pooled : bool
        Whether the figures are over sessions; then their intervals are too.
    slopes : sequence of Row
        Limits at some rates, where bias changes with the rate.
    """
    sample = "sessions are the sample" if pooled else "stretches that repeat each other count once"
    return [
        Family(
            "Difference of heart rate",
            "A difference is tested minus reference. The limits of agreement hold 95% of the epochs: bias "
            "± 1.96 standard deviations"
            + (", for repeated measures, with the spread between and within sessions" if pooled else "")
            + f". Intervals are 95%; {sample}.",
            _difference(figures, pooled=pooled),
        ),
        Family(
            "Size of the error",
            "How far off an epoch is, whichever way. The last line is the accuracy rule for heart-rate "
            "meters attributed to ANSI/AAMI EC13 (from memory): within 10% or 5 bpm, whichever is greater.",
            [
                _row(figures, "mean_absolute_error", "mean absolute error", _plain, "bpm"),
                _row(
                    figures, "mean_absolute_percentage_error", "mean absolute percentage error", _plain, "%"
                ),
                _row(figures, "root_mean_squared_error", "root mean squared error", _plain, "bpm"),
                _row(figures, "share_within_5_bpm", "within 5 bpm", _percent, "% of epochs"),
                _row(figures, "share_within_10_percent", "within 10%", _percent, "% of epochs"),
                _row(figures, "share_within_either", "within 10% or 5 bpm", _percent, "% of epochs"),
            ],
        ),
        Family(
            "Where the bias changes with the rate",
            "A sensor may be right at rest and low in hard work. The slopes ask whether tested and reference "
            "rate stay in proportion: 1 is in proportion. Deming's takes both as equally noisy, "
            "Passing and Bablok's goes by ranks and shrugs off outliers"
            + ("" if pooled else "; their intervals take epochs as independent and are too narrow")
            + ". Limits at a rate come from the regression of the difference on the mean (Bland and Altman).",
            [
                _change(figures),
                *slopes,
                _row(figures, "deming_slope", "Deming slope", _fine, "bpm per bpm"),
                _row(figures, "passing_bablok_slope", "Passing–Bablok slope", _fine, "bpm per bpm"),
            ],
        ),
        Family(
            "Likeness",
            "Correlation says whether both rise and fall together and ignores bias: orientation, no verdict. "
            "Its bands are trade practice. Concordance (Lin) and the intraclass correlation (single "
            "measurement, absolute agreement, ICC 2,1) fall with bias too.",
            _likeness(figures, pooled=pooled),
        ),
        Family(
            "Equivalence",
            "Two one-sided tests: is the bias shown to be too small to matter? The margin is ours; where "
            "another matters to you, hold the 90% interval against that one.",
            _equivalence(figures),
        ),
    ]


def limits_at(rates: Sequence[float], lower: Sequence[float], upper: Sequence[float]) -> list[Row]:
    """Rows of the limits that hold at some rates."""
    return [
        Row(f"limits at {rate:.0f} bpm", f"{signed(low)} to {signed(high)}", "bpm")
        for rate, low, high in zip(rates, lower, upper, strict=True)
    ]


def _difference(figures: Figures, *, pooled: bool) -> list[Row]:
    spread = [
        _row(figures, "between_sd", "… between sessions", _plain, "bpm"),
        _row(figures, "within_sd", "… within sessions", _plain, "bpm"),
    ]
    return [
        _row(figures, "bias", "bias", signed, "bpm"),
        _row(figures, "sd", "standard deviation", _plain, "bpm"),
        *(spread if pooled else []),
        _row(figures, "lower_limit", "lower limit of agreement", signed, "bpm"),
        _row(figures, "upper_limit", "upper limit of agreement", signed, "bpm"),
    ]


def _likeness(figures: Figures, *, pooled: bool) -> list[Row]:
    r = figures.get("pearson_r", Figure(None)).value
    within = _row(figures, "repeated_measures_r", "correlation within sessions", _fine)
    return [
        _row(
            figures,
            "pearson_r",
            "correlation (Pearson)",
            _fine,
            note=f"{correlation_band(r)}, as orientation" if r is not None else "",
        ),
        *([within] if pooled else []),
        _row(figures, "concordance", "concordance", _fine),
        _row(figures, "icc_2_1", "intraclass correlation, ICC(2,1)", _fine),
    ]


def _change(figures: Figures) -> Row:
    """Slope of the difference on the mean, as a change over 10 bpm."""
    slope = figures.get("regression_slope", Figure(None))
    tens = Figure(*(None if end is None else 10 * end for end in (slope.value, slope.low, slope.high)))
    return _row({"change": tens}, "change", "change of the bias per 10 bpm", signed, "bpm")


def _equivalence(figures: Figures) -> list[Row]:
    margin = figures.get("equivalence_margin", Figure(None)).value
    found = figures.get("equivalence", Figure(None))
    p, interval = found.value, _between(found, signed)
    shown = DASH if p is None or margin is None else "yes" if p < 0.05 else "not shown"
    return [
        Row("margin", DASH if margin is None else f"±{margin:.0f}", "bpm"),
        Row("90% interval of the bias", interval or DASH, "bpm"),
        Row("bias within the margin", shown, note="" if p is None else f"p {_p_value(p)}"),
    ]


def _row(figures: Figures, name: str, label: str, form: Format, unit: str = "", note: str = "") -> Row:
    figure = figures.get(name, Figure(None))
    value = DASH if figure.value is None else form(figure.value)
    return Row(label, value, unit, _between(figure, form), note)


def _between(figure: Figure, form: Format) -> str:
    return "" if figure.low is None or figure.high is None else f"{form(figure.low)} to {form(figure.high)}"


def _plain(value: float) -> str:
    return f"{value:.1f}"


def _fine(value: float) -> str:
    return f"{value:.2f}" if value >= 0 else signed(value, 2)


def _percent(share: float) -> str:
    return f"{100 * share:.0f}"


def _p_value(p: float) -> str:
    return "< 0.001" if p < 0.001 else "> 0.999" if p > 0.999 else f"{p:.3f}"


def reads(bias: float) -> str:
    """What a bias says in words: "reads 4.2 bpm low"."""
    size = f"{abs(bias):.1f}"
    return "reads true" if size == "0.0" else f"reads {size} bpm {'high' if bias > 0 else 'low'}"
