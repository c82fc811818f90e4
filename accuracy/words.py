"""What was learned, in words."""

from __future__ import annotations

from accuracy.core.traces.artefacts import MEANINGS, Reason
from trainlog.web.words import clock


def reading(ratio: float) -> str:
    """Reading of a sensor whose true load is ``ratio`` times its own: "reads 12% low"."""
    change = _per_cent(ratio)
    if change == 0:
        return "reads true"
    return f"reads {abs(change)}% {'high' if change > 0 else 'low'}"


def reading_range(ratio_low: float, ratio_high: float) -> str:
    """Range of the same: "4–19% low", "2% low to 5% high"."""
    lowest, highest = _per_cent(ratio_high), _per_cent(ratio_low)
    if highest <= 0:
        return f"{-highest}–{-lowest}% low"
    if lowest >= 0:
        return f"{lowest}–{highest}% high"
    return f"{-lowest}% low to {highest}% high"


def chance(probability: float) -> str:
    """Probability in per cent to the nearest 5, never certain."""
    return f"{min(max(round(probability * 20) * 5, 5), 95)}%"


def margin(half_width: float) -> str:
    """Relative half-width to a tenth of a per cent: "±9.2%"; beyond the load itself it says so."""
    return f"±{100 * half_width:.1f}%" if half_width <= 1 else "more than ±100%"


def flagged(start: float, end: float, reason: int | str) -> str:
    """Flagged stretch in words: "0:00 to 2:10: possibly before the sensor locked on"."""
    return f"{clock(start)} to {clock(end)}: {meaning(reason)}"


def meaning(reason: int | str) -> str:
    """Words of a reason, by its name or its bits; a name that is not known is shown as it stands."""
    if isinstance(reason, str):
        known = Reason.__members__.get(reason.upper())
        return MEANINGS.get(known, reason) if known else reason
    return ", ".join(words for flag, words in MEANINGS.items() if Reason(reason) & flag) or "flagged"


def difference(ratio: float) -> str:
    """Difference of a ratio from equality in per cent, signed with a true minus."""
    change = round(100 * (ratio - 1))
    return f"{'+' if change > 0 else '−' if change < 0 else ''}{abs(change)}%"


def off(ratio: float) -> str:
    """How a sensor reads, without the verb: "12% low", "true"."""
    return reading(ratio).removeprefix("reads ")


def per_cent_off(ratio: float) -> float:
    """Tested against reference load in per cent, of the ratio of reference over tested load."""
    return 100 * (1 / ratio - 1) if ratio > 0 else 0.0


def _per_cent(ratio: float) -> int:
    return round(per_cent_off(ratio))
