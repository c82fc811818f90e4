"""What published validation protocols ask to be reported, filled from an athlete's own sessions.

One athlete's training is no validation study. The table says what is there, and plainly what is not.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import isnan

from accuracy.core.agreement.differences import plain
from accuracy.core.agreement.pooled import Figure, PooledAgreement

INTERLIVE = "INTERLIVE (Mühlen et al. 2021, Br J Sports Med 55:767-779)"
CTA = "CTA-2065 (2018; as quoted by secondary sources)"
MINUS = "−"
NOT_KNOWN = "not known"
MISSING = "missing from this protocol"

INTERLIVE_PARTICIPANTS = 45
"""Participants as a rule of thumb (INTERLIVE's supplement)."""

CTA_PARTICIPANTS = 20
"""Participants (from memory; the standard's text was not seen)."""

CTA_PERCENTAGE_ERROR = 10.0
"""Mean absolute percentage error in per cent to stay under (two journal articles quote it)."""


@dataclass(frozen=True)
class Protocol:
    """What is known of the people, the sensors and the recordings; None is not known.

    Attributes
    ----------
    participants : int or None
        People.
    reference, reference_placement, tested_placement, setting : str or None
        Sensor and where it was worn; where and how the sessions were done.
    synchronisation, processing : str or None
        How clocks were aligned; how criterion errors were treated, smoothing and resampling.
    age, sex, height, body_mass_index, skin_tone : str or None
        Of the participants, with units; skin tone on Fitzpatrick's scale.
    """

    participants: int | None = 1
    reference: str | None = None
    reference_placement: str | None = None
    tested_placement: str | None = None
    setting: str | None = "own training, no set intensities"
    synchronisation: str | None = (
        "blockwise cross-correlation of the traces, bounded to 120 s, or none where one clock wrote both"
    )
    processing: str | None = (
        "reference artefacts flagged from its own trace and cut from both; linear interpolation to 1 Hz "
        "across gaps up to 30 s; no smoothing"
    )
    age: str | None = None
    sex: str | None = None
    height: str | None = None
    body_mass_index: str | None = None
    skin_tone: str | None = None


@dataclass(frozen=True)
class SummaryItem:
    """One line of the table.

    Attributes
    ----------
    item : str
        What is asked for.
    asked_by : str
        Who asks.
    activity : str
        Activity it is given for; empty for the whole.
    value : str
        Value with its unit, or in words that it is not known or missing.
    given : bool
        False where the protocol or the log does not hold what is asked.
    """

    item: str
    asked_by: str
    activity: str
    value: str
    given: bool

    def as_dict(self) -> dict:
        """The line by column, ready for JSON and CSV."""
        return plain(self.__dict__)


def study_summary(
    by_activity: Mapping[str, PooledAgreement], protocol: Protocol | None = None
) -> list[SummaryItem]:
    """Fill the table of what INTERLIVE's recommendations and CTA-2065 ask.

    Parameters
    ----------
    by_activity : mapping of str to PooledAgreement
        Pooled figures of one tested sensor, by activity.
    protocol : Protocol, optional
        What is known besides; by default one athlete's own training with the log's own processing.

    Returns
    -------
    list of SummaryItem
        First the protocol, then the figures activity by activity.
    """
    protocol = protocol or Protocol()
    table = _about_protocol(protocol) + _about_conditions(by_activity)
    for activity, pooled in by_activity.items():
        table += _about_activity(activity, pooled)
    return table


def _about_protocol(protocol: Protocol) -> list[SummaryItem]:
    asked = [
        ("criterion sensor", protocol.reference),
        ("criterion placement", protocol.reference_placement),
        ("placement of the tested sensor", protocol.tested_placement),
        ("setting", protocol.setting),
        ("synchronisation", protocol.synchronisation),
        ("processing", protocol.processing),
        ("age", protocol.age),
        ("sex", protocol.sex),
        ("height", protocol.height),
        ("body mass index", protocol.body_mass_index),
        ("skin tone (Fitzpatrick)", protocol.skin_tone),
    ]
    table = [_line(item, INTERLIVE, value) for item, value in asked]
    for asked_by, wanted in ((INTERLIVE, INTERLIVE_PARTICIPANTS), (CTA, CTA_PARTICIPANTS)):
        count = protocol.participants
        enough = count is not None and count >= wanted
        value = f"{count if count is not None else NOT_KNOWN}; {wanted} or more are asked for"
        table.append(SummaryItem("participants", asked_by, "", value, enough))
    return table


def _about_conditions(by_activity: Mapping[str, PooledAgreement]) -> list[SummaryItem]:
    done = ", ".join(by_activity) or "none"
    return [
        _missing("laboratory: three walking, two running and three cycling intensities", INTERLIVE),
        _missing("laboratory: steady states of 2 to 5 minutes, and transitions between them", INTERLIVE),
        _line("semi-free-living: intermittent work of at least 15 to 20 minutes", INTERLIVE, f"done: {done}"),
        _missing("sitting, daily activities, walking, jogging, running and cycling as set tasks", CTA),
        _missing("rule for outliers", INTERLIVE, "none is applied, and none was found in the sources read"),
    ]


def _about_activity(activity: str, pooled: PooledAgreement) -> list[SummaryItem]:
    figures = pooled.figures

    def line(item: str, value: str, asked_by: str = INTERLIVE) -> SummaryItem:
        return SummaryItem(item, asked_by, activity, value, True)

    error = figures["mean_absolute_percentage_error"]
    standard_error = (
        f"{number(pooled.session_biases.std(ddof=1) / pooled.sessions**0.5, 2)} bpm"
        if pooled.sessions > 1
        else f"{NOT_KNOWN} from one session"
    )
    verdict = "under" if error.value < CTA_PERCENTAGE_ERROR else "not under"
    return [
        line("paired values", f"{pooled.epochs} in {pooled.sessions} session{'s' * (pooled.sessions > 1)}"),
        line("epoch", f"{pooled.epoch_seconds} s"),
        line("data availability", f"{number(100 * pooled.availability, 0)}% of the sessions' time"),
        line("mean ± SD, criterion", _mean(figures, "reference")),
        line("mean ± SD, tested", _mean(figures, "tested")),
        line("mean difference", _shown(figures["bias"], "bpm")),
        line("SD of differences", _shown(figures["sd"], "bpm")),
        SummaryItem(
            "standard error of the mean difference, over sessions",
            INTERLIVE,
            activity,
            standard_error,
            pooled.sessions > 1,
        ),
        line("mean absolute error", _shown(figures["mean_absolute_error"], "bpm")),
        line("mean absolute percentage error", _shown(error, "%")),
        line("lower limit of agreement", _shown(figures["lower_limit"], "bpm")),
        line("upper limit of agreement", _shown(figures["upper_limit"], "bpm")),
        line("least-products slope", _shown(figures["least_products_slope"], "bpm per bpm")),
        line(
            "mean absolute percentage error under 10%",
            f"{number(error.value, 1)}%: {verdict} {number(CTA_PERCENTAGE_ERROR, 0)}%",
            CTA,
        ),
    ]


def _line(item: str, asked_by: str, value: str | None) -> SummaryItem:
    return SummaryItem(item, asked_by, "", NOT_KNOWN if value is None else value, value is not None)


def _missing(item: str, asked_by: str, why: str = "") -> SummaryItem:
    return SummaryItem(item, asked_by, "", f"{MISSING}{': ' + why if why else ''}", False)


def _mean(figures: Mapping[str, Figure], sensor: str) -> str:
    return f"{number(figures[f'{sensor}_mean'].value, 1)} ± {number(figures[f'{sensor}_sd'].value, 1)} bpm"


def number(value: float, digits: int) -> str:
    """Write a figure for a reader, with a true minus and none before a zero.

    Parameters
    ----------
    value : float
        Figure in any unit; NaN is not known.
    digits : int
        Decimals.

    Returns
    -------
    str
        The figure without its unit.

    Examples
    --------
    >>> number(-4.25, 1), number(-0.04, 1)
    ('−4.2', '0.0')
    """
    if isnan(value):
        return NOT_KNOWN
    rounded = round(value, digits)
    return f"{MINUS if rounded < 0 else ''}{abs(rounded):.{digits}f}"


def _shown(figure: Figure, unit: str) -> str:
    """Value with its interval, which is NaN where there are too few sessions."""
    value = f"{number(figure.value, 2)} {unit}"
    if isnan(figure.low):
        return f"{value} (interval: {NOT_KNOWN}, too few sessions)"
    return f"{value} (95% interval over sessions {number(figure.low, 2)} to {number(figure.high, 2)})"
