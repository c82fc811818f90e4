"""Small helpers of the templates: figures in words and the drawn interval."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django import template
from django.templatetags.tz import do_timezone

from trainlog.models import Workout
from trainlog.web import words
from trainlog.web.seen import digest_of

register = template.Library()

register.filter("load", words.load_figure)
register.filter("half_width", words.half_width)
register.filter("duration", words.duration)
register.filter("seconds_missing", words.seconds_missing)
register.filter("clock", words.clock)
register.filter("comparison", words.comparison)
register.filter("verdict", words.verdict)
register.filter("observed_hours", words.observed_hours)
register.filter("time_there", words.time_there)


@register.filter
def seen_as(value: Any, field: str) -> str:
    """What a form of one field, written out in a template, was shown with: see ``trainlog.web.seen``."""
    return digest_of({field: value})


@register.filter
def signed(value: float | str | None, digits: int = 1) -> str:
    """Difference with its sign; a figure that a template does not find arrives as empty text."""
    return words.DASH if value is None or isinstance(value, str) else words.signed(value, digits)


@register.filter
def number(value: float | str | None, digits: int = 1) -> str:
    """Plain figure with so many decimals, or a dash where there is none."""
    return words.DASH if value is None or isinstance(value, str) else f"{value:.{digits}f}"


@register.filter
def milliseconds(logarithm: float | str | None, digits: int = 0) -> str:
    """Milliseconds from their natural logarithm, or a dash where there is none."""
    if logarithm is None or isinstance(logarithm, str):
        return words.DASH
    return f"{math.exp(logarithm):.{digits}f}"


@register.filter
def per_cent(value: float | str | None) -> str:
    """Share (0 to 1) in whole per cent, or a dash where there is none."""
    return words.DASH if value is None or isinstance(value, str) else f"{100 * value:.0f}%"


@register.filter
def hours_range(hours: tuple[float, float, float]) -> str:
    """Range of hours, from its low, median and high."""
    low, _, high = hours
    return words.hours_range(low, high)


@register.filter
def nearest_hour(moment: datetime) -> datetime:
    """Instant to the nearest hour: an estimate of hours knows no minutes."""
    return (moment + timedelta(minutes=30)).replace(minute=0, second=0, microsecond=0)


@register.filter
def there(moment: datetime, workout: Workout) -> Any:
    """Instant by the clock of the zone in which a workout began: at home, the page's own."""
    return do_timezone(moment, workout.time_zone) if workout.time_zone else moment


@register.filter
def interval(estimate: Any) -> str:
    """Both ends of the 80% interval of an estimate or a total."""
    return words.range_figure(estimate.low, estimate.high)


@dataclass(frozen=True)
class Bar:
    """Where a drawn interval lies, in per cent of the drawing's width, as its numbers are written."""

    left: str
    width: str
    median: str
    raw: str | None


@register.inclusion_tag("_interval_bar.html")
def interval_bar(
    estimate: Any, highest: float, basis: str = "", confidence: str = "", raw: float | None = None
) -> dict[str, Any]:
    """Draw a load's 80% interval as a band with a tick at the median.

    Parameters
    ----------
    estimate : LoadEstimate or Total
        Anything with ``low``, ``median`` and ``high``.
    highest : float
        Load at the right end, so that bars under one another can be compared.
    basis, confidence : str
        Decide ink and hatching.
    raw : float, optional
        Load as the sensor had it, drawn as a small mark of its own.
    """
    end = max(highest, 1e-9)

    def place(load: float) -> float:
        return round(min(max(100 * load / end, 0.0), 100.0), 2)

    left = place(estimate.low)
    width = max(place(estimate.high) - left, 0.6)
    return {
        "bar": Bar(
            left=f"{left:.2f}",
            width=f"{width:.2f}",
            median=f"{place(estimate.median):.2f}",
            raw=None if raw is None else f"{place(raw):.2f}",
        ),
        "basis": basis,
        "confidence": confidence,
    }


@register.inclusion_tag("_basis_mark.html")
def basis_mark(basis: str, label: str = "", *, quiet: bool = False) -> dict[str, Any]:
    """Glyph and word of a basis; ``quiet`` leaves the word to screen readers."""
    return {"basis": basis, "label": label or basis, "quiet": quiet}
