"""What would make the load of a part firmer, in sentences, from what its doubt is made of."""

from __future__ import annotations

from dataclasses import dataclass

from trainlog.models import Basis, Physiology

NOTEWORTHY = 0.25
"""Share of the doubt from which its source is worth a word (common practice, no source)."""

FIRM = 0.10
"""Half-width up to which a load is firm, and nothing more has to be done about its sensor."""

MANY_MISSING = 0.05
"""Share of a part without a reading from which gaps are worth a word (common practice, no source)."""


@dataclass(frozen=True)
class Doubted:
    """What the doubt of one load is made of.

    Attributes
    ----------
    basis : str
    activity : str
        Its name.
    sensor : str
        Name of the tested sensor that the load rests on; empty if none.
    half_width : float
        Of the 80% interval over the median, sensor doubt only.
    sensor_share : float or None
        Share of the whole doubt that the sensor makes.
    missing_share : float
        Share of the part without a reading.
    rated, ratings_help : bool
        Whether a session-RPE was given; whether pairs showed that one helps in this family.
    maximum_source : str
        Where the entered maximum heart rate comes from.
    """

    basis: str
    activity: str
    sensor: str = ""
    half_width: float = 0.0
    sensor_share: float | None = None
    missing_share: float = 0.0
    rated: bool = False
    ratings_help: bool = False
    maximum_source: str = Physiology.MaximumSource.MEASURED


def firmer(doubted: Doubted) -> list[str]:
    """Sentences on what would narrow the interval, the most telling first; empty where little would."""
    found = []
    if doubted.half_width > FIRM:
        found += _of_sensor(doubted)
    if doubted.sensor_share is not None and 1 - doubted.sensor_share >= NOTEWORTHY:
        found.append(
            "A maximum heart rate that you measured: the entered one is predicted from age."
            if doubted.maximum_source == Physiology.MaximumSource.AGE
            else "A resting and maximum heart rate measured again: their doubt moves every load alike."
        )
    return found


def _of_sensor(doubted: Doubted) -> list[str]:
    found = []
    if doubted.basis == Basis.MISSING:
        return ["A recording of it, if a device has one.", "Your rating of how hard it felt."]
    if doubted.basis == Basis.REPORTED:
        return ["A recording of it, if a device has one."]
    if doubted.sensor:
        found.append(
            f"Wearing a strap beside {doubted.sensor} in {doubted.activity} once more: each such pair "
            "teaches how it errs there, and narrows this load too."
        )
        if doubted.ratings_help and not doubted.rated:
            found.append("Your rating of how hard it felt: pairs showed that it helps here.")
    if doubted.missing_share >= MANY_MISSING:
        found.append(f"A recording without gaps: {doubted.missing_share:.0%} of this part went unrecorded.")
    return found
