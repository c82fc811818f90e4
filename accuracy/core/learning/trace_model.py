"""A model of the wrist's error second by second: bpm that are missing in each state of its trace.

The error of a state is linear in its rate, its slope, how early it is and whether it is flagged, with
coefficients for all together and departures of the instrument in the family, each drawn toward zero (ridge
regression with known scales). Sessions, not seconds, are the sample: a session of any length weighs as
``SESSION_WEIGHT`` independent seconds. Corrected rates add up to a log ratio of loads, which the pooled
regression then takes as an offset.

References
----------
Hoerl AE, Kennard RW (1970). Ridge regression. Technometrics 12:55-67.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from accuracy.core.traces.states import AT_START, AT_STEP_RATE, SLOPE_MIDDLES, States
from trainlog.load.physiology import PhysiologyDraws
from trainlog.load.trimp import load_per_minute
from trainlog.trace import FloatArray

SESSION_WEIGHT = 8.0
"""Independent seconds that a session counts as (common practice, no source)."""

ERROR_SCALE = 10.0
"""bpm of error of one such second (common practice, no source)."""

SHARED_SCALES = np.array([4.0, 3.0, 2.0, 4.0, 4.0, 6.0, 4.0, 8.0, 8.0])
"""Prior standard deviations in bpm of the coefficients that all share: a constant, the rate in fifths of the
reserve from 55% and its square, rising and falling by 15 bpm in 20 s, the first minute, the next two,
flagged as before lock-on, flagged as at the step rate (common practice, no source)."""

OWN_SCALES = np.array([6.0, 5.0, 2.0, 4.0, 4.0, 6.0, 4.0, 8.0, 8.0])
"""The same of an instrument's departures in a family (common practice, no source)."""

TERMS = len(SHARED_SCALES)

LARGEST_ERROR = 60.0
"""bpm beyond which no correction goes (common practice, no source)."""


def basis(states: States, physiology: PhysiologyDraws) -> FloatArray:
    """Terms of each state, shape (states, ``TERMS``)."""
    share = (states.rate - physiology.resting) / (physiology.maximum - physiology.resting)
    rate = (share - 0.55) / 0.2
    slope = SLOPE_MIDDLES[states.slope] / 15
    return np.column_stack(
        [
            np.ones(len(states)),
            rate,
            rate**2,
            np.maximum(slope, 0),
            np.minimum(slope, 0),
            states.early == 0,
            states.early == 1,
            states.flagged == AT_START,
            states.flagged == AT_STEP_RATE,
        ]
    ).astype(float)


@dataclass(frozen=True, eq=False)
class TraceEvidence:
    """What one pair says of the coefficients.

    Attributes
    ----------
    group : str
        Instrument in a family.
    precision : array, shape (``TERMS``, ``TERMS``)
    pull : array, shape (``TERMS``,)
    """

    group: str
    precision: FloatArray
    pull: FloatArray


def trace_evidence(group: str, states: States, physiology: PhysiologyDraws) -> TraceEvidence:
    """Evidence of a pair's states, whose differences from the reference are known."""
    terms = basis(states, physiology)
    weight = states.seconds / max(states.seconds.sum(), 1.0) * SESSION_WEIGHT / ERROR_SCALE**2
    return TraceEvidence(group, terms.T @ (terms * weight[:, None]), terms.T @ (weight * states.difference))


class TraceModel:
    """Coefficients learned from pairs."""

    def __init__(self, evidence: Sequence[TraceEvidence]) -> None:
        self.evidence = list(evidence)
        self.groups = sorted({one.group for one in evidence})
        self._precision = np.diag(
            np.concatenate([1 / SHARED_SCALES**2] + [1 / OWN_SCALES**2] * len(self.groups))
        )
        self._pull = np.zeros(len(self._precision))
        for one in evidence:
            self._add(self._precision, self._pull, one, 1.0)
        self._coefficients: FloatArray = np.linalg.solve(self._precision, self._pull).astype(float)

    def coefficients(self, group: str) -> FloatArray:
        """Coefficients of an instrument in a family, seen or not, shape (``TERMS``,)."""
        return self._of(self._coefficients, group)

    def without(self, left_out: Sequence[int]) -> list[FloatArray]:
        """Coefficients for each of some pairs, all of them left out."""
        precision, pull = self._precision.copy(), self._pull.copy()
        for place in left_out:
            self._add(precision, pull, self.evidence[place], -1.0)
        coefficients: FloatArray = np.linalg.solve(precision, pull).astype(float)
        return [self._of(coefficients, self.evidence[place].group) for place in left_out]

    def _of(self, coefficients: FloatArray, group: str) -> FloatArray:
        if group not in self.groups:
            return coefficients[:TERMS]
        start = TERMS * (1 + self.groups.index(group))
        return coefficients[:TERMS] + coefficients[start : start + TERMS]

    def _add(self, precision: FloatArray, pull: FloatArray, one: TraceEvidence, sign: float) -> None:
        start = TERMS * (1 + self.groups.index(one.group))
        places = (slice(0, TERMS), slice(start, start + TERMS))
        for row in places:
            pull[row] += sign * one.pull
            for column in places:
                precision[row, column] += sign * one.precision


def corrected_rates(states: States, coefficients: FloatArray, physiology: PhysiologyDraws) -> FloatArray:
    """Rate of each state with its expected error made good, bpm, shape (states,)."""
    error = basis(states, physiology) @ coefficients
    return states.rate + np.clip(error, -LARGEST_ERROR, LARGEST_ERROR)


def log_gain(states: States, coefficients: FloatArray, physiology: PhysiologyDraws) -> float:
    """Log ratio of the load at the corrected rates to that of the wrist's own; 0 for a load of nothing."""

    def load(rate: FloatArray) -> float:
        per_minute = load_per_minute(rate, physiology.resting, physiology.maximum, physiology.weighting)
        return float(states.seconds @ per_minute)

    before, after = load(states.rate), load(corrected_rates(states, coefficients, physiology))
    return float(np.log(after / before)) if min(before, after) > 0 else 0.0
