"""What a practitioner asks of a sensor, in rows like the other figures'."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from accuracy.core.agreement.recovery_difference import RecoveryDifference
from accuracy.core.traces.align import Shift
from accuracy.shown.figures import Family, Row
from trainlog.web.words import DASH, clock, signed

TITLE = "What it means in practice"


def of_pair(
    agreement: Mapping[str, Any],
    load_difference: float | None,
    lag: Shift | None,
    means: tuple[float, float],
    recovery: RecoveryDifference | None = None,
) -> Family:
    """Rows of one pair.

    Parameters
    ----------
    agreement : mapping
        Figures of ``core.agreement.Agreement.as_dict``.
    load_difference : float or None
        Of the common seconds, per cent.
    lag : Shift or None
        None where the clocks may differ.
    means : tuple of float
        Mean reference and tested rate over the common seconds, bpm.
    recovery : RecoveryDifference, optional
        None where it cannot be told.
    """
    locked, peaks = agreement.get("lock_on_seconds"), agreement.get("peaks")
    missed, shortfall = agreement.get("peaks_missed"), agreement.get("mean_peak_shortfall")
    return Family(
        TITLE,
        "Peaks are of the five-second mean. One is missed if the tested sensor stays more than 5 bpm below "
        "it from 10 s before to 30 s after. Locked on is a first 30 s within 10% or 5 bpm. A lag can be told "
        "from an offset of the clocks only where both clocks were set by network or satellites. All "
        "definitions are common practice.",
        [
            Row(
                "difference of the means",
                _signed(means[1] - means[0]),
                "bpm",
                note=f"{means[0]:.0f} and {means[1]:.0f} bpm",
            ),
            Row("difference of the highest", _signed(agreement.get("session_peak_difference")), "bpm"),
            Row(
                "peaks missed",
                DASH if peaks is None else f"{missed} of {peaks}",
                note="" if not shortfall else f"by {shortfall:.0f} bpm on average",
            ),
            Row(
                "locked on after",
                "never" if locked is None else clock(locked),
                "" if locked is None else "min",
            ),
            _lag(lag),
            Row("difference of the loads", _signed(load_difference, 0), "%"),
            _recovery(recovery),
        ],
    )


def over_sessions(agreements: Sequence[Mapping[str, Any]], load_differences: Sequence[float]) -> Family:
    """Rows over sessions: the middle one, and the range from the lowest to the highest."""
    locked = _known(agreements, "lock_on_seconds")
    never = sum(1 for one in agreements if one.get("lock_on_seconds") is None)
    peaks, missed = (int(sum(_known(agreements, name))) for name in ("peaks", "peaks_missed"))
    highest = _known(agreements, "session_peak_difference")
    return Family(
        TITLE,
        "Of the sessions' own figures the middle one, and the lowest and the highest. Locked on is a first "
        "30 s within 10% or 5 bpm. Peaks are counted over all sessions; one is missed if the tested sensor "
        "stays more than 5 bpm below it from 10 s before to 30 s after. Definitions are common practice.",
        [
            Row("difference of the highest", *_middle(highest, signed, "bpm")),
            Row(
                "peaks missed",
                f"{missed} of {peaks}" if peaks else DASH,
                note=f"{100 * missed / peaks:.0f}%" if peaks else "",
            ),
            Row(
                "locked on after",
                *_middle(locked, clock, "min"),
                note=f"never in {never} of {len(agreements)}" if never else "",
            ),
            Row("difference of the loads", *_middle(load_differences, lambda one: signed(one, 0), "%")),
        ],
        interval="lowest to highest",
    )


def _recovery(recovery: RecoveryDifference | None) -> Row:
    if recovery is None:
        return Row("difference of the recovery", DASH, note="not told: no load or no physiology")
    reference, tested = recovery.reference.median, recovery.tested.median
    return Row(
        "difference of the recovery",
        signed(recovery.difference.median, 0),
        "h",
        note=f"{reference:.0f} and {tested:.0f} h, as recorded",
    )


def _lag(lag: Shift | None) -> Row:
    if lag is None:
        return Row("follows late by", DASH, note="not told: the clocks may differ")
    if lag.ambiguous:
        return Row("follows late by", DASH, note="the traces do not tell")
    doubt = f"± {lag.uncertainty:.1f} standard error" if np.isfinite(lag.uncertainty) else ""
    return Row("follows late by", signed(lag.seconds), "s", note=doubt)


def _known(agreements: Sequence[Mapping[str, Any]], name: str) -> list[float]:
    return [one[name] for one in agreements if one.get(name) is not None]


def _middle(values: Sequence[float], form: Any, unit: str) -> tuple[str, str, str]:
    """Median, unit and range, in words."""
    if not values:
        return DASH, unit, ""
    low, middle, high = (float(value) for value in np.quantile(values, [0, 0.5, 1]))
    return form(middle), unit, f"{form(low)} to {form(high)}" if len(values) > 1 else ""


def _signed(value: float | None, digits: int = 1) -> str:
    return DASH if value is None or not np.isfinite(value) else signed(value, digits)
