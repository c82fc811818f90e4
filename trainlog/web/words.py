"""Figures in words, as the pages say them."""

from __future__ import annotations

import math

from trainlog.load.observed_recovery import Observed
from trainlog.load.week import Comparison

DASH = "—"
"""Stands where there is no figure."""

MINUS = "−"


def load_figure(value: float | None) -> str:
    """Load to the whole unit; below ten to a tenth, so that a short walk is not lost in rounding."""
    if value is None:
        return DASH
    return f"{value:.1f}" if abs(value) < 9.95 else f"{value:.0f}"


def range_figure(low: float, high: float) -> str:
    """Interval of a load, both ends rounded alike."""
    return f"{low:.1f}–{high:.1f}" if high < 9.95 else f"{low:.0f}–{high:.0f}"


def half_width(value: float | None) -> str:
    """Relative half-width of an interval as "±9%"; beyond the median itself it says so."""
    if value is None:
        return DASH
    return f"±{100 * value:.0f}%" if value <= 1 else "more than ±100%"


def duration(seconds: float) -> str:
    """Length as "45 min" or "1 h 05 min"."""
    minutes = round(seconds / 60)
    if minutes < 60:
        return f"{minutes} min"
    return f"{minutes // 60} h {minutes % 60:02d} min"


def seconds_missing(seconds: int) -> str:
    """Time without a heart rate as "12 s missing" or "3 min missing"."""
    return f"{seconds}\u00a0s missing" if seconds < 120 else f"{round(seconds / 60)}\u00a0min missing"


def clock(seconds: float) -> str:
    """Place in a session as "3:05" or "1:03:05"."""
    whole = round(seconds)
    hours, rest = divmod(whole, 3600)
    return f"{hours}:{rest // 60:02d}:{rest % 60:02d}" if hours else f"{rest // 60}:{rest % 60:02d}"


def signed(value: float | None, digits: int = 1) -> str:
    """Difference with its sign, a true minus, and no minus before a zero."""
    if value is None:
        return DASH
    rounded = round(value, digits)
    sign = "+" if rounded > 0 else MINUS if rounded < 0 else ""
    return f"{sign}{abs(rounded):.{digits}f}"


def change_range(low: float, high: float) -> str:
    """Likely range of a change in per cent: "between 4% lower and 31% higher"."""
    low, high = round(low), round(high)
    if low == high == 0:
        return "less than 1% apart"
    if 0 in (low, high):
        return f"up to {high}% higher" if low == 0 else f"up to {-low}% lower"
    if low >= 0:
        return f"between {low}% and {high}% higher"
    if high <= 0:
        return f"between {-high}% and {-low}% lower"
    return f"between {-low}% lower and {high}% higher"


def comparison(change: Comparison) -> str:
    """Probability that one week exceeds another, and by how much: "70% likely higher"."""
    likely = change.per_cent_likely
    if likely == 50:
        return f"as likely higher as lower; {change_range(change.low, change.high)}"
    verdict = f"{likely}% likely higher" if likely > 50 else f"{100 - likely}% likely lower"
    return f"{verdict}; {change_range(change.low, change.high)}"


_SURENESS = ((95, "almost certainly"), (85, "very likely"), (70, "likely"), (55, "perhaps"))
"""Words for a probability of at least so many per cent, as the figure beside them says (our own scale)."""


def verdict(change: Comparison) -> str:
    """Say aloud whether one load exceeds another: "very likely lower"."""
    likely = change.per_cent_likely
    word = next((said for least, said in _SURENESS if max(likely, 100 - likely) >= least), "")
    return f"{word} {'higher' if likely > 50 else 'lower'}" if word else "about as high"


def observed_hours(observed: Observed) -> str:
    """Hours after which morning figures were back, as far as mornings tell."""
    if observed.by == math.inf:
        return f"not within {observed.after:.0f} h"
    if observed.after == 0:
        return f"within {observed.by:.0f} h"
    return f"after {observed.after:.0f} h, by {observed.by:.0f} h"


def hours_range(low: float, high: float) -> str:
    """Range of hours, whole: "24–48 h", and "up to 6 h" where it begins at nothing."""
    ends = round(low), round(high)
    if ends[0] == ends[1]:
        return f"{ends[0]} h"
    return f"{ends[0]}–{ends[1]} h" if ends[0] else f"up to {ends[1]} h"


def time_there(time_zone: str) -> str:
    """Name of a zone's clock after its place: "Tokyo time" of "Asia/Tokyo"."""
    return f"{time_zone.rpartition('/')[2].replace('_', ' ')} time"
