"""One-sentence reasons, from the numbers by rules."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from datetime import date

import numpy as np

from accuracy.core.learning.drift import Drift
from accuracy.core.learning.selection import Difference
from trainlog.trace import FloatArray

UNLIKE = {
    "load": "its intensity",
    "peaks": "its peaks",
    "spread": "its ups and downs",
    "unflagged load": "the share of it in doubt",
    "start": "its start",
    "rises": "its fast rises",
    "level": "its mean rate",
    "length": "its length",
    "flagged at start": "the time before lock-on",
    "flagged at step rate": "the time at the step rate",
    "roughness": "its roughness",
    "cadence": "its cadence",
    "rating": "its rating against its heart rate",
}
"""What of a session lies outside the pairs, by feature."""

NOTEWORTHY_SHARE = 0.1
"""Share of the doubt below which gaps are not worth a word (common practice, no source)."""


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


def unlike(outside: Mapping[str, float]) -> str:
    """Sentence on a session that lies outside what the pairs showed; empty where it does not."""
    if not outside:
        return ""
    named = " and ".join(UNLIKE[name] for name in sorted(outside, key=lambda name: -outside[name])[:2])
    return f" No pair was like it in {named}, so the margin is wider."


def changed(drift: Drift | None) -> str:
    """Sentence on a sensor whose error changed; empty where it did not."""
    if drift is None:
        return ""
    day = date.fromordinal(drift.from_day)
    return (
        f" Since about {day.day} {day:%B %Y} its pairs disagree with those before "
        f"({counted(drift.after, 'pair')} since), so older ones count less; more pairs would help."
    )


def share_of_gaps(share: float) -> str:
    """Sentence on how much of the doubt comes from seconds without a reading; empty where it is little."""
    return f" They make about {share:.0%} of the margin." if share >= NOTEWORTHY_SHARE else ""


CHOSEN = {
    "load": ("harder", "easier"),
    "length": ("longer", "shorter"),
    "peaks": ("higher in their peaks", "lower in their peaks"),
    "spread": ("more uneven", "more even"),
}
"""How sessions with a strap differ, where a feature is higher and where it is lower."""


def chosen_days(differences: Sequence[Difference]) -> str:
    """Sentence on strap sessions that are unlike the others; empty where they are alike."""
    if not differences:
        return ""
    named = " and ".join(CHOSEN[one.feature][one.paired < one.alone] for one in differences)
    return (
        f"Sessions with the strap were {named} than those without, so what they teach may not hold for the "
        "others. Let chance pick some strap days."
    )


SINCE = re.compile(r"Since about (.+?) its pairs disagree")
"""Beginning of ``changed``."""


def brief(remark: str) -> str:
    """Remark of a profile in a few words, for a crowded place: "changed since 3 March 2026"."""
    since = SINCE.match(remark)
    if since:
        return f"changed since {since[1]}"
    return "strap days unlike the others" if remark.startswith("Sessions with the strap") else "see why"


def by_zones(*, moved: bool, unrecorded: bool, stand_ins: bool) -> str:
    """What a load by zones adds to the reason of the training impulse that it goes with.

    Parameters
    ----------
    moved : bool
        Whether it rests on a tested sensor's rates.
    unrecorded : bool
        Whether it rests on no recording.
    stand_ins : bool
        Whether percentages of the maximum stand in for thresholds that no test has found.
    """
    said = ""
    if moved:
        said = " This speaks of the training impulse; minutes in zones are those of rates that agree with it."
    elif unrecorded:
        said = " Minutes in zones are those of your measured sessions, shifted to agree with it."
    if stand_ins:
        said += " 82% and 88% of your maximum stand in for the thresholds that no test has found."
    return said
