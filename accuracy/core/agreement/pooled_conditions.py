"""Error by intensity and by direction of change over several sessions, which are the sample."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import asdict, dataclass

import numpy as np
from scipy import special

from accuracy.core.agreement.conditions import ConditionError
from accuracy.core.agreement.differences import plain
from accuracy.core.agreement.regression import FEWEST_SESSIONS
from trainlog.trace import FloatArray


@dataclass(frozen=True)
class PooledCondition:
    """Error of one condition over sessions.

    Attributes
    ----------
    condition : str
        Name of the band or direction.
    sessions, seconds : int
        Sessions that have seconds in it, and how many.
    bias, bias_low, bias_high : float
        Mean difference over all its seconds, bpm, with the 95% interval over sessions (NaN with fewer than
        ``FEWEST_SESSIONS``).
    sd, mean_absolute_error : float
        bpm, over all its seconds.
    mean_absolute_percentage_error : float
        Percent of the reference.
    share_within_either : float
        Share (0 to 1) within 10% or 5 bpm.
    """

    condition: str
    sessions: int
    seconds: int
    bias: float
    bias_low: float
    bias_high: float
    sd: float
    mean_absolute_error: float
    mean_absolute_percentage_error: float
    share_within_either: float

    def as_dict(self) -> dict:
        """Figures by name, ready for JSON."""
        return plain(asdict(self))


def pool_conditions(sessions: Sequence[Sequence[ConditionError]]) -> list[PooledCondition]:
    """Pool the rows of several sessions, condition by condition.

    Parameters
    ----------
    sessions : sequence of sequences of ConditionError
        One sequence a session, each with the same conditions in the same order.

    Returns
    -------
    list of PooledCondition
        In that order. Every second counts alike; the bias' interval is the delete-one-session jackknife's,
        with Student's t.
    """
    return [_pooled(rows) for rows in zip(*sessions, strict=True)]


def _pooled(rows: Sequence[ConditionError]) -> PooledCondition:
    known = [row for row in rows if row.seconds]
    if not known:
        return PooledCondition(rows[0].condition, 0, 0, *[math.nan] * 7)
    seconds = np.array([row.seconds for row in known], dtype=float)
    biases = np.array([row.bias for row in known])
    spreads = np.array([row.sd if row.seconds > 1 else 0.0 for row in known])
    n = float(seconds.sum())
    bias = float(seconds @ biases) / n
    squares = float(((seconds - 1) * spreads**2 + seconds * (biases - bias) ** 2).sum())
    low, high = _interval(seconds, biases, bias)

    def mean(name: str) -> float:
        return float(seconds @ np.array([getattr(row, name) for row in known])) / n

    return PooledCondition(
        rows[0].condition,
        len(known),
        int(n),
        bias,
        low,
        high,
        math.sqrt(squares / (n - 1)) if n > 1 else math.nan,
        mean("mean_absolute_error"),
        mean("mean_absolute_percentage_error"),
        mean("share_within_either"),
    )


def _interval(seconds: FloatArray, biases: FloatArray, bias: float) -> tuple[float, float]:
    k = len(seconds)
    if k < FEWEST_SESSIONS:
        return math.nan, math.nan
    left_out = (seconds @ biases - seconds * biases) / (seconds.sum() - seconds)
    error = math.sqrt((k - 1) / k * float(((left_out - left_out.mean()) ** 2).sum()))
    reach = float(special.stdtrit(k - 1, 0.975)) * error
    return bias - reach, bias + reach
