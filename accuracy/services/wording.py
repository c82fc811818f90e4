"""One-sentence reasons, from the numbers by rules."""

from __future__ import annotations

import numpy as np

from trainlog.trace import FloatArray


def counted(count: int, noun: str) -> str:
    """Count with its noun: "1 pair", "4 pairs"."""
    return f"{count} {noun}" if count == 1 else f"{count} {noun}s"


def off_by(log_ratio: float) -> str:
    """What a log ratio of true to recorded load says of the recorded one: "12% low"."""
    per_cent = 100 * (np.exp(-log_ratio) - 1)
    if abs(per_cent) < 0.5:
        return "true"
    return f"{abs(per_cent):.0f}% {'high' if per_cent > 0 else 'low'}"


def off_between(log_ratio: FloatArray) -> str:
    """The 80% range of what one further session may read, from draws: "between 3% high and 20% low"."""
    ends = [off_by(float(end)).replace("true", "0%") for end in np.quantile(log_ratio, [0.1, 0.9])]
    return f"between {ends[0]} and {ends[1]}"


def about(probability: float) -> str:
    """Probability in words with its number, to the nearest 5 per cent."""
    per_cent = round(probability * 20) * 5
    if per_cent >= 100:
        return "more than 95%"
    return "less than 5%" if per_cent <= 0 else f"about {per_cent}%"


def unrecorded(seconds: int, missing: int) -> str:
    """Sentence on the part of a part that no trace covers; empty where it is under 1%."""
    share = missing / seconds
    if share < 0.01:
        return ""
    minutes = missing / 60
    length = f"{minutes:.0f} min" if minutes >= 1.5 else f"{missing} s"
    return f" {length} ({share:.0%}) went unrecorded and are drawn, not counted as rest."
