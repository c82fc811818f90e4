"""Offers of new dated physiology: made from what was measured, applied by the athlete alone."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
from django.core.exceptions import ValidationError

from trainlog.load.settled import SETTLED_DAYS, goes_beyond, settled_resting
from trainlog.models import Athlete, CheckIn, DeclinedOffer, Physiology

VALUES: Mapping[str, tuple[float, float]] = {
    DeclinedOffer.Kind.MAXIMUM: (100.0, 240.0),
    DeclinedOffer.Kind.RESTING: (25.0, 120.0),
}
"""Lowest and highest value that is ever offered, in bpm."""


@dataclass(frozen=True)
class RestingOffer:
    """A resting rate that the mornings have settled at.

    Attributes
    ----------
    value : float
        bpm, to the half.
    error : float
        Standard error of the mean behind it, in bpm.
    mornings : int
        Mornings with a value.
    day : date
        Newest of them.
    entered : float
        What loads go by at present, in bpm.
    """

    value: float
    error: float
    mornings: int
    day: date
    entered: float


def resting_offer(athlete: Athlete, today: date) -> RestingOffer | None:
    """New resting rate worth offering, if the mornings have settled away from what is entered.

    Only mornings since that was entered count, so what the athlete enters is not contradicted by older ones.

    Parameters
    ----------
    athlete : Athlete
        Whose log it is.
    today : date
        Last of the days.
    """
    row = athlete.physiology().on(today)
    if row is None:
        return None
    first = max(today - timedelta(days=SETTLED_DAYS - 1), row.from_day)
    noted = list(
        CheckIn.objects.of(athlete)
        .filter(day__range=(first, today), resting_rate__isnull=False)
        .order_by("day")
        .values_list("day", "resting_rate")
    )
    settled = settled_resting(np.array([rate for _, rate in noted], dtype=float), row.resting_rate)
    if settled is None:
        return None
    value = round(2 * settled.mean) / 2
    if was_declined(athlete, DeclinedOffer.Kind.RESTING, value, row):
        return None
    return RestingOffer(value, settled.error, settled.mornings, noted[-1][0], row.resting_rate)


def was_declined(athlete: Athlete, kind: str, value: float, row: Physiology) -> bool:
    """Whether this figure, or one as far from what is entered, was declined since that was entered.

    Parameters
    ----------
    athlete : Athlete
        Whose log it is.
    kind : str
        A ``DeclinedOffer.Kind``.
    value : float
        bpm, as it would be offered.
    row : Physiology
        What loads go by at present.
    """
    entered = row.maximum_rate if kind == DeclinedOffer.Kind.MAXIMUM else row.resting_rate
    declined, whereabouts = DeclinedOffer.objects.of(athlete).filter(kind=kind), athlete.whereabouts()
    return any(
        not goes_beyond(value, offer.value, entered)
        for offer in declined
        if whereabouts.day_of(offer.declined_at) >= row.from_day
    )


def decline_offer(athlete: Athlete, kind: str, value: float) -> DeclinedOffer:
    """Note that a figure is not wanted: it is not offered again until it goes 2 bpm beyond.

    Raises
    ------
    ValidationError
        If no such figure is ever offered.
    """
    lowest, highest = VALUES.get(kind, (math.inf, -math.inf))
    if not lowest <= value <= highest:
        raise ValidationError("There is no such offer.")
    return DeclinedOffer.objects.create(owner=athlete, kind=kind, value=value)
