"""Recovery hours claimed by a device: from the wrist alone against fed by a strap, and what that teaches."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from accuracy.core.learning import priors, profile
from accuracy.core.learning.profile import Cell, PairedLoads, Posterior
from trainlog.load.draws import interval
from trainlog.models import Athlete, ClaimedRecovery, Part, Workout

CLAIMED_HOURS = "claimed-hours"
"""Kind of instrument; it has one instrument, named like the kind."""

LEAST_HOURS = 0.5
"""Hours below which a ratio says nothing (ours, no source)."""


@dataclass(frozen=True)
class Claim:
    """One workout with hours claimed after it.

    Attributes
    ----------
    workout : Workout
    what : str
        Activity of its longest part.
    wrist, strap : float or None
        Hours claimed from the wrist alone, and fed by a strap.
    likely : tuple of float or None
        Low, median and high of what a strap would have made of it, 80%; None where one did.
    """

    workout: Workout
    what: str
    wrist: float | None
    strap: float | None
    likely: tuple[float, float, float] | None

    @property
    def ratio(self) -> float | None:
        """Strap-fed over wrist-only hours, where both were noted and say something."""
        if self.wrist is None or self.strap is None or min(self.wrist, self.strap) < LEAST_HOURS:
            return None
        return self.strap / self.wrist


@dataclass(frozen=True)
class Claims:
    """All claims, newest first, and what those with both kinds teach.

    Attributes
    ----------
    rows : sequence of Claim
    pairs : int
        Workouts after which both kinds were noted.
    ratio : tuple of float or None
        Low, median and high of strap-fed over wrist-only hours for a further session, 80%; None where no
        workout has both.
    """

    rows: Sequence[Claim]
    pairs: int
    ratio: tuple[float, float, float] | None


def claims_of(athlete: Athlete) -> Claims:
    """Claimed hours of an athlete, those from the wrist alone corrected by what pairs of claims teach.

    The log of the ratio is learned by partial pooling over families and activities, exactly as that of loads.

    Parameters
    ----------
    athlete : Athlete
    """
    hours: dict[int, dict[str, float]] = {}
    for workout_id, fed_by, claimed in ClaimedRecovery.objects.of(athlete).values_list(
        "workout_id", "fed_by", "hours"
    ):
        hours.setdefault(workout_id, {})[fed_by] = claimed
    longest: dict[int, Part] = {}
    parts = Part.objects.of(athlete).filter(workout__in=hours).select_related("workout", "activity")
    for part in parts.order_by("start"):
        known = longest.get(part.workout_id)
        if known is None or part.seconds > known.seconds:
            longest[part.workout_id] = part
    claims = sorted(
        (Claim(part.workout, part.activity.name, *_both(hours[key]), None) for key, part in longest.items()),
        key=lambda one: one.workout.start,
        reverse=True,
    )
    pairs = [
        PairedLoads(_cell(longest[one.workout.pk]), math.log(one.ratio), _content(one.workout))
        for one in claims
        if one.ratio is not None
    ]
    if not pairs:
        return Claims(claims, 0, None)
    learned = profile.learn(pairs, priors.CLAIMED_HOURS, seed=athlete.seed, kind=CLAIMED_HOURS)
    # Of the activity with most pairs: the one that a sentence about a further session speaks of.
    commonest = max((pair.cell for pair in pairs), key=[pair.cell for pair in pairs].count)
    further = np.exp(learned.further_session(commonest, "a further session"))
    rows = [_with_likely(one, longest[one.workout.pk], learned) for one in claims]
    return Claims(rows, len(pairs), interval(further))


def _both(by_kind: dict[str, float]) -> tuple[float | None, float | None]:
    return by_kind.get(ClaimedRecovery.FedBy.WRIST), by_kind.get(ClaimedRecovery.FedBy.STRAP)


def _with_likely(claim: Claim, part: Part, learned: Posterior) -> Claim:
    if claim.strap is not None or claim.wrist is None:
        return claim
    factor = np.exp(learned.further_session(_cell(part), _content(claim.workout)))
    return Claim(claim.workout, claim.what, claim.wrist, claim.strap, interval(claim.wrist * factor))


def _cell(part: Part) -> Cell:
    return Cell(CLAIMED_HOURS, "", part.activity.family, part.activity.slug)


def _content(workout: Workout) -> str:
    """What seeds a claim's own draws: when the workout began, never a primary key."""
    return f"claimed hours/{workout.start.timestamp():.0f}"
