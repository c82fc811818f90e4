"""Whether a strap has to go on, from the chance that a wrist-only load lies near the truth."""

from __future__ import annotations

from enum import StrEnum

import numpy as np

from trainlog.trace import FloatArray

NEAR = 0.10
"""A load within this share of the truth serves a training decision, unless the athlete says otherwise
(common practice, no source)."""

WRIST_TARGET = 0.80
"""Chance of being near above which the wrist will do (common practice, no source)."""

STRAP_TARGET = 0.50
"""Chance of being near below which a strap is needed (common practice, no source)."""

LEAST_PAIRS = 3
"""Pairs of the sensor in the activity below which no verdict is given (common practice, no source)."""


class Verdict(StrEnum):
    """Strap advice for a sensor on an activity."""

    WRIST_WILL_DO = "wrist_will_do"
    STRAP_ADVISED = "strap_advised"
    STRAP_NEEDED = "strap_needed"
    TOO_FEW_PAIRS = "too_few_pairs"


def chance_near(log_ratio: FloatArray, near: float = NEAR) -> float:
    """Probability that the truth lies near the load in hand.

    Parameters
    ----------
    log_ratio : array
        Draws of the log of the true load over the load in hand: as they are for the load as it stands,
        less their median for the corrected load.
    near : float
        Share of the truth, 0 to 1.
    """
    return float(np.mean(np.abs(np.expm1(-log_ratio)) <= near))


def verdict(chance: float, pair_count: int) -> Verdict:
    """Advice for one more wrist-only session.

    Parameters
    ----------
    chance : float
        Probability that its load lies near the truth after correction, by the sensor's doubt alone.
    pair_count : int
        Pairs of the sensor in the activity.
    """
    if pair_count < LEAST_PAIRS:
        return Verdict.TOO_FEW_PAIRS
    if chance >= WRIST_TARGET:
        return Verdict.WRIST_WILL_DO
    return Verdict.STRAP_ADVISED if chance >= STRAP_TARGET else Verdict.STRAP_NEEDED


def serves_as_it_stands(log_ratio: FloatArray, pair_count: int, near: float = NEAR) -> bool:
    """Whether enough pairs say that a wrist load needs no correction at all."""
    return pair_count >= LEAST_PAIRS and chance_near(log_ratio, near) >= WRIST_TARGET
