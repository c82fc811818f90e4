"""What is shown of one part: figures side by side, why its load is as sure as it is, what a strap gives."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from accuracy.core.agreement.conditions import INTENSITY_BANDS
from accuracy.core.estimates.doubt import sensor_share
from accuracy.core.estimates.rate_shift import PEAK_SECONDS
from accuracy.services.firmer import Doubted, firmer
from accuracy.services.knowledge import Knowledge, physiology_by_day
from accuracy.services.likely import current_estimate, readable_fit
from accuracy.services.part_figures import Corrected, PartFigures, Recorded, figures_of
from accuracy.services.with_strap import with_strap
from trainlog.load.draws import interval, relative_half_width
from trainlog.load.physiology import PhysiologyDraws
from trainlog.models import Athlete, Basis, Confidence, LoadEstimate, Measure, Part
from trainlog.trace import FloatArray
from trainlog.web.words import half_width, load_figure, range_figure


@dataclass(frozen=True)
class Column:
    """Head of a column: what its figures are, and whose."""

    kind: str
    title: str
    of: str


@dataclass(frozen=True)
class Cell:
    """One figure with its unit, and its 80% interval where it is an estimate."""

    kind: str
    figure: str
    unit: str
    between: str = ""


@dataclass(frozen=True)
class Row:
    """One figure in every column."""

    label: str
    note: str
    cells: Sequence[Cell]


@dataclass(frozen=True)
class Figures:
    """Table of a part's figures.

    Attributes
    ----------
    pairs : int
        From which the doubt of the corrected column was learned; 0 also without such a column.
    learned_from : bool
        Whether this part is one of them.
    missing_seconds : int
        Of the tested recording, without a reading.
    """

    columns: Sequence[Column]
    rows: Sequence[Row]
    corrected: bool
    measured: bool
    pairs: int
    learned_from: bool
    missing_seconds: int


@dataclass(frozen=True)
class Findings:
    """What is shown of one part, each in words; empty or None for what there is nothing to say of."""

    figures: Figures | None
    shares: str
    firmer: Sequence[str]
    strap: str


def findings_of(athlete: Athlete, part: Part) -> Findings | None:
    """Everything that explains a part's load; None while it is being estimated.

    Parameters
    ----------
    athlete : Athlete
    part : Part
        With its workout and activity.
    """
    shown, impulse = current_estimate(athlete, part, athlete.measure), current_estimate(athlete, part)
    learned, physiology = readable_fit(athlete), physiology_by_day(athlete)(part.workout.day)
    if shown is None or impulse is None or learned is None or physiology is None:
        return None
    knowledge = learned[1]
    figures = figures_of(athlete, part, impulse, knowledge, physiology)
    return Findings(
        table(figures, impulse, athlete.measure) if figures else None,
        shares(shown),
        firmer(_doubted(athlete, part, shown, figures, knowledge)),
        strap_words(athlete, part, shown, figures),
    )


def shares(estimate: LoadEstimate) -> str:
    """Sentence on how much of a load's doubt is the sensor's and how much the physiology's."""
    share = sensor_share(estimate.load_by_sensor_doubt, estimate.load_by_physiology_doubt)
    if share is None:
        return ""
    own, rest = round(20 * share) * 5, 100 - round(20 * share) * 5
    sensor, physiology = (
        half_width(estimate.sensor_half_width),
        half_width(relative_half_width(estimate.load_by_physiology_doubt)),
    )
    source = "sensor" if estimate.raw is not None else "estimate"
    return (
        f"About {own}% of the doubt is the {source}’s ({sensor} alone) and {rest}% that of your resting and "
        f"maximum heart rate ({physiology} alone)."
    )


def strap_words(athlete: Athlete, part: Part, estimate: LoadEstimate, figures: PartFigures | None) -> str:
    """Sentence on what a strap would have given, or, where one was worn, on what it gave."""
    known = f"{half_width(estimate.sensor_half_width)} ({estimate.get_confidence_display()})"
    if estimate.basis == Basis.MEASURED:
        corrected = figures.corrected if figures else None
        if corrected is None or figures is None or figures.recorded is None:
            return ""
        alone = Confidence.of(corrected.half_width).label
        return (
            f"Without the strap, {figures.recorded.sensor} would have given this load to "
            f"{half_width(corrected.half_width)} ({alone}), as corrected; with it, it is known to {known}."
        )
    worn = with_strap(athlete, part, estimate.measure)
    if worn is None:
        return (
            "What a strap would have given is not known: there is no measured session of "
            f"{part.activity} yet."
        )
    sessions = "1 measured session" if worn.sessions == 1 else f"{worn.sessions} measured sessions"
    return (
        f"With a strap this load would most likely have been known to {half_width(worn.half_width)} "
        f"({worn.confidence}) instead of {known}, as in your {sessions} of {part.activity}."
    )


def table(figures: PartFigures, impulse: LoadEstimate, measure: str) -> Figures:
    """Columns and rows of what there is; a column that is missing is left out."""
    recorded, corrected, measured = figures.recorded, figures.corrected, figures.measured
    columns = []
    if recorded:
        columns.append(Column("recorded", "As recorded", str(recorded.sensor)))
    if corrected:
        title = "Corrected" if measured else "Most likely"
        columns.append(Column("corrected", title, "80% interval"))
    if measured:
        columns.append(Column("measured", "Measured", str(measured.sensor)))
    load = "load" if measure == Measure.TRIMP else "load, training impulse"
    rows = [
        Row(load, "", _loads(recorded, corrected, measured, impulse)),
        Row("mean", "", _rates(figures, "mean")),
        Row("peak", f"reached for {PEAK_SECONDS:.0f} s in all", _rates(figures, "peak")),
        *_bands(figures),
    ]
    return Figures(
        columns,
        rows,
        corrected is not None,
        measured is not None,
        corrected.pairs if corrected else 0,
        corrected.learned_from if corrected else False,
        recorded.missing_seconds if recorded else 0,
    )


def _loads(
    recorded: Recorded | None, corrected: Corrected | None, measured: Recorded | None, impulse: LoadEstimate
) -> list[Cell]:
    cells = []
    if recorded:
        cells.append(Cell("recorded", load_figure(recorded.load), ""))
    if corrected:
        low, median, high = interval(corrected.load)
        cells.append(Cell("corrected", load_figure(median), "", range_figure(low, high)))
    if measured:
        between = range_figure(impulse.low, impulse.high)
        cells.append(Cell("measured", load_figure(impulse.median), "", between))
    return cells


def _rates(figures: PartFigures, name: str) -> list[Cell]:
    drawn = getattr(figures.corrected.rates, name) if figures.corrected else None
    plain = [getattr(one, name) if one else None for one in (figures.recorded, figures.measured)]
    return _cells(plain[0], drawn, plain[1], "bpm")


def _bands(figures: PartFigures) -> list[Row]:
    """Minutes in each band of intensity that any column reaches."""
    found = []
    for place, (name, low, high) in enumerate(INTENSITY_BANDS):
        drawn = figures.corrected.rates.minutes_in_band[:, place] if figures.corrected else None
        plain = [
            float(one.minutes_in_band[place]) if one else None for one in (figures.recorded, figures.measured)
        ]
        cells = _cells(plain[0], drawn, plain[1], "min")
        if any(cell.figure != "0" or cell.between not in ("", "0") for cell in cells):
            found.append(Row(name, _from_to(low, high, figures.physiology), cells))
    return found


def _cells(
    recorded: float | None, corrected: FloatArray | None, measured: float | None, unit: str
) -> list[Cell]:
    cells = []
    if recorded is not None:
        cells.append(Cell("recorded", f"{recorded:.0f}", unit))
    if corrected is not None:
        low, median, high = (f"{value:.0f}" for value in interval(corrected))
        cells.append(Cell("corrected", median, unit, low if low == high else f"{low}–{high}"))
    if measured is not None:
        cells.append(Cell("measured", f"{measured:.0f}", unit))
    return cells


def _from_to(low: float, high: float, physiology: PhysiologyDraws) -> str:
    reserve = physiology.maximum - physiology.resting
    lower, upper = (physiology.resting + edge / 100 * reserve for edge in (low, high))
    if math.isinf(low):
        return f"below {upper:.0f} bpm"
    return f"from {lower:.0f} bpm" if math.isinf(high) else f"{lower:.0f} to {upper:.0f} bpm"


def _doubted(
    athlete: Athlete, part: Part, estimate: LoadEstimate, figures: PartFigures | None, knowledge: Knowledge
) -> Doubted:
    physiology = athlete.physiology().on(part.workout.day)
    best = (figures.measured or figures.recorded) if figures else None
    of_wrist = figures.recorded if figures and not figures.measured else None
    return Doubted(
        estimate.basis,
        part.activity.name,
        str(of_wrist.sensor) if of_wrist else "",
        estimate.sensor_half_width,
        sensor_share(estimate.load_by_sensor_doubt, estimate.load_by_physiology_doubt),
        best.missing_seconds / part.seconds if best else 0.0,
        part.session_rpe is not None,
        knowledge.wrist.heeds_ratings(part.activity.family),
        physiology.maximum_source if physiology else "",
    )
