"""What the page that compares sensors shows."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from accuracy import charts
from accuracy.core.agreement.paired_differences import PairedDifference
from accuracy.core.agreement.sensor_comparison import MAIN, Comparison
from accuracy.core.agreement.session_matching import INTENSITY_BOUND, LENGTH_BOUND
from accuracy.services.compared_sessions import LeftOut, Paired
from accuracy.services.sensor_comparison import Answer, Compared, Way
from accuracy.shown import comparison_words as words
from trainlog.models import Activity
from trainlog.web.words import DASH, duration, signed

LABELS = {
    "bias": ("bias", "tested minus reference"),
    "mean_absolute_error": ("mean absolute error", "how far off a second is, whichever way"),
    "limits_width": ("width of the limits of agreement", "3.92 standard deviations of a session's seconds"),
    "mean_absolute_percentage_error": ("mean absolute percentage error", ""),
    "load_error": ("load's distance", "100 × |log of tested over reference load|, near per cent"),
}
"""What each figure goes by, and a few words on it."""

SHORT_UNITS = {"load_error": "log %", "mean_absolute_percentage_error": "%"}
"""Units other than bpm."""


@dataclass(frozen=True)
class FigureRow:
    """One figure of both sensors, and their difference, in words."""

    label: str
    note: str
    unit: str
    first: str
    second: str
    difference: str
    interval: str
    p: str
    main: bool = False


@dataclass(frozen=True)
class ActivityLine:
    """The main figure on one activity."""

    activity: Activity
    sessions: int
    first: str
    second: str
    difference: str
    interval: str
    p: str
    said: str


@dataclass(frozen=True)
class SessionLine:
    """One session, or two that were matched."""

    session: Paired
    minutes: str
    first: str
    second: str
    difference: str

    @property
    def what(self) -> str:
        """Its activities."""
        return ", ".join(kind.name for kind in self.session.activities)


@dataclass(frozen=True)
class LeftOutLine:
    """A session without a partner, with what it would be matched on."""

    left: LeftOut
    intensity: str
    minutes: str


@dataclass(frozen=True)
class Section:
    """Two sensors."""

    compared: Compared
    id: str
    verdict: Sequence[str]
    cautions: Sequence[str]
    rows: Sequence[FigureRow]
    lines: Sequence[ActivityLine]
    chart: dict[str, Any] | None
    sessions: Sequence[SessionLine]
    left_out: Sequence[LeftOutLine]

    @property
    def has_intervals(self) -> bool:
        """Whether there were sessions enough for any."""
        return self.compared.whole.main.has_interval


def comparison_page(answer: Answer) -> dict[str, Any]:
    """Everything on the page but the form.

    Parameters
    ----------
    answer : Answer
    """
    return {
        "answer": answer,
        "matched": answer.way == Way.MATCHED,
        "sensors_in_words": words.list_of(answer.sensors),
        "sections": [_section(answer, compared, place) for place, compared in enumerate(answer.compared, 1)],
        "adjusted": words.adjusted_in_words(answer),
        "intensity_bound": INTENSITY_BOUND,
        "length_bound": LENGTH_BOUND,
    }


def figure_rows(comparison: Comparison) -> list[FigureRow]:
    """Figures of a comparison, and how much the bias varies between sessions."""
    rows = []
    for name, found in comparison.figures.items():
        form: Callable[[float], str] = signed if name == "bias" else _plain
        label, note = LABELS[name]
        rows.append(_row(label, note, SHORT_UNITS.get(name, "bpm"), found, form, main=name == MAIN))
    variance = comparison.bias_variance
    if variance is not None:
        rows.append(
            FigureRow(
                "spread of the bias between sessions",
                "standard deviations, and the ratio of their squares: 1 is alike",
                "bpm",
                _plain(variance.first_sd),
                _plain(variance.second_sd),
                f"ratio {variance.ratio:.2g}",
                f"{variance.low:.2g} to {variance.high:.2g}",
                words.p_value(variance.p),
            )
        )
    return rows


def _section(answer: Answer, compared: Compared, place: int) -> Section:
    names = (compared.first.name, compared.second.name)
    main = compared.whole.main
    chart = None
    if compared.sessions:
        interval = (main.low, main.high) if main.has_interval else None
        chart = charts.paired_differences(_marks(compared.sessions), main.difference, interval, names=names)
    return Section(
        compared,
        f"compared-{place}",
        words.verdict(answer, compared),
        words.cautions(answer, compared),
        figure_rows(compared.whole) if compared.sessions else [],
        [
            _line(activity, own.main, compared.adjusted.get(activity.slug, math.nan), names)
            for activity, own in compared.by_activity
        ],
        chart,
        [_session(one) for one in reversed(compared.sessions)],
        [_left(one) for one in compared.left_out],
    )


def _row(
    label: str, note: str, unit: str, found: PairedDifference, form: Callable[[float], str], *, main: bool
) -> FigureRow:
    return FigureRow(
        label,
        note,
        unit,
        _known(found.first, form),
        _known(found.second, form),
        _known(found.difference, signed),
        _interval(found),
        words.p_value(found.p),
        main,
    )


def _line(activity: Activity, found: PairedDifference, p: float, names: tuple[str, str]) -> ActivityLine:
    return ActivityLine(
        activity,
        found.sessions,
        _known(found.first, _plain),
        _known(found.second, _plain),
        _known(found.difference, signed),
        _interval(found),
        words.p_value(p),
        words.nearer(found, p, names),
    )


def _session(one: Paired) -> SessionLine:
    lengths = dict.fromkeys(duration(error.seconds) for error in (one.first, one.second))
    return SessionLine(
        one,
        " and ".join(lengths),
        f"{one.first.mean_absolute_error:.1f}",
        f"{one.second.mean_absolute_error:.1f}",
        signed(one.first.mean_absolute_error - one.second.mean_absolute_error),
    )


def _left(one: LeftOut) -> LeftOutLine:
    known = math.isfinite(one.session.intensity)
    return LeftOutLine(
        one, f"{one.session.intensity:.0f}" if known else DASH, duration(one.session.error.seconds)
    )


def _marks(sessions: Sequence[Paired]) -> list[charts.SessionDifference]:
    """Marks with labels unlike each other: a second session of a day and kind is numbered."""
    met: dict[str, int] = {}
    marks = []
    for one in sessions:
        days = dict.fromkeys(
            f"{work.day.day} {work.day:%b}" for work in (one.first_workout, one.second_workout)
        )
        label = f"{' / '.join(days)}, {', '.join(kind.name for kind in one.activities)}"
        met[label] = met.get(label, 0) + 1
        if met[label] > 1:
            label = f"{label} ({met[label]})"
        marks.append(
            charts.SessionDifference(label, one.first.mean_absolute_error, one.second.mean_absolute_error)
        )
    return marks


def _interval(found: PairedDifference) -> str:
    return f"{signed(found.low)} to {signed(found.high)}" if found.has_interval else DASH


def _known(value: float, form: Callable[[float], str]) -> str:
    return form(value) if np.isfinite(value) else DASH


def _plain(value: float) -> str:
    return f"{value:.1f}"
