"""Everything that is reported of one pair, ready for a page and for export."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from accuracy.core.agreement.conditions import (
    ConditionError,
    error_by_direction,
    error_by_intensity,
    load_difference,
)
from accuracy.core.agreement.differences import EPOCHS, plain
from accuracy.core.agreement.equivalence import EQUIVALENCE_MARGIN
from accuracy.core.agreement.pair_agreement import UNITS, Agreement, agree
from accuracy.core.traces.artefacts import Flags
from accuracy.core.traces.faults import share_of_time_by_fault
from trainlog.load.trimp import Weighting
from trainlog.trace import FloatArray

CONDITION_UNITS: Mapping[str, str] = {
    "condition": "name",
    "seconds": "s",
    "bias": "bpm",
    "sd": "bpm",
    "mean_absolute_error": "bpm",
    "mean_absolute_percentage_error": "%",
    "share_within_either": "share, 0 to 1",
    "load_difference": "%",
}
"""Unit of every figure by intensity or direction."""


@dataclass(frozen=True)
class PairReport:
    """Figures of one pair.

    Attributes
    ----------
    by_epoch : mapping of int to Agreement
        Agreement by seconds of an epoch; lengths of which the pair has fewer than two are left out.
    by_intensity, by_direction : list of ConditionError
        By band of heart-rate reserve, and while the reference rises, stays level and falls; by second.
    load_difference : float
        Percent by which the tested load differs from the reference's over the common seconds.
    reference_faults, tested_faults : mapping of str to float
        Share of time under each flag.
    """

    by_epoch: Mapping[int, Agreement]
    by_intensity: Sequence[ConditionError]
    by_direction: Sequence[ConditionError]
    load_difference: float
    reference_faults: Mapping[str, float]
    tested_faults: Mapping[str, float]

    def as_dict(self) -> dict:
        """Nested figures, ready for JSON; ``units`` names the unit of each."""
        return plain(
            {
                "by_epoch_seconds": {seconds: row.as_dict() for seconds, row in self.by_epoch.items()},
                "by_intensity": [row.as_dict() for row in self.by_intensity],
                "by_direction": [row.as_dict() for row in self.by_direction],
                "load_difference_percent": self.load_difference,
                "reference_fault_shares": dict(self.reference_faults),
                "tested_fault_shares": dict(self.tested_faults),
                "units": {"agreement": dict(UNITS), "conditions": dict(CONDITION_UNITS)},
            }
        )


def report_pair(
    reference: FloatArray,
    tested: FloatArray,
    *,
    resting: float,
    maximum: float,
    weighting: Weighting,
    reference_flags: Flags | None = None,
    tested_flags: Flags | None = None,
    epochs: Sequence[int] = EPOCHS,
    margin: float = EQUIVALENCE_MARGIN,
) -> PairReport:
    """Report a pair.

    Parameters
    ----------
    reference, tested : array, shape (seconds,)
        Heart rate in bpm at 1 Hz, aligned, NaN for gaps (as ``pairing.PairedTraces`` holds them).
    resting, maximum : float
        Resting and maximum heart rate in bpm.
    weighting : Weighting
        Of the training impulse.
    reference_flags, tested_flags : Flags, optional
        Of each trace before it was cut.
    epochs : sequence of int
        Seconds of the epochs wanted.
    margin : float
        bpm of mean difference that would not matter, for the equivalence test.

    Returns
    -------
    PairReport
        See its attributes.

    Raises
    ------
    ValueError
        If the traces differ in length, share fewer than two seconds, or a rate is impossible.
    """
    agree_on_seconds = agree(reference, tested, margin=margin)
    by_epoch = {1: agree_on_seconds} if 1 in epochs else {}
    for seconds in epochs:
        if seconds > 1 and agree_on_seconds.common_seconds >= 2 * seconds and len(reference) > seconds:
            by_epoch |= _agree_if_possible(reference, tested, seconds, margin)
    return PairReport(
        by_epoch=by_epoch,
        by_intensity=error_by_intensity(
            reference, tested, resting=resting, maximum=maximum, weighting=weighting
        ),
        by_direction=error_by_direction(
            reference, tested, resting=resting, maximum=maximum, weighting=weighting
        ),
        load_difference=load_difference(
            reference, tested, resting=resting, maximum=maximum, weighting=weighting
        ),
        reference_faults=share_of_time_by_fault(reference_flags) if reference_flags else {},
        tested_faults=share_of_time_by_fault(tested_flags) if tested_flags else {},
    )


def _agree_if_possible(
    reference: FloatArray, tested: FloatArray, seconds: int, margin: float
) -> dict[int, Agreement]:
    """Figures at an epoch length, nothing where gaps leave fewer than two epochs."""
    both = np.isfinite(reference) & np.isfinite(tested)
    padded = np.zeros(-(-len(both) // seconds) * seconds, dtype=bool)
    padded[: len(both)] = both
    if (padded.reshape(-1, seconds).sum(axis=1) >= seconds / 2).sum() < 2:
        return {}
    return {seconds: agree(reference, tested, epoch_seconds=seconds, margin=margin)}
