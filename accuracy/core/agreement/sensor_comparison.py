"""Two tested sensors against one reference: per-session errors of each, and their paired differences.

A session's error is of seconds; over sessions, the sessions are the sample. Nothing here knows whether both
sensors were worn in the same sessions, or in matched ones: the caller pairs the sessions.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from accuracy.core.agreement.limits import LIMITS_MULTIPLE
from accuracy.core.agreement.paired_differences import PairedDifference, paired_difference
from accuracy.core.agreement.paired_variances import VarianceRatio, variance_ratio
from trainlog.trace import FloatArray

MAIN = "mean_absolute_error"
"""Figure that says which sensor is nearer; chosen before any data were seen."""

UNITS: Mapping[str, str] = {
    "bias": "bpm",
    "mean_absolute_error": "bpm",
    "limits_width": "bpm",
    "mean_absolute_percentage_error": "%",
    "load_error": "100 × |ln of the load's ratio|",
}
"""Unit of each figure that is compared, in the order of showing."""


@dataclass(frozen=True)
class SessionError:
    """How a tested sensor errs in one session, second by second over some common seconds.

    Attributes
    ----------
    seconds : int
        Common seconds.
    bias, mean_absolute_error : float
        Tested minus reference, and its size, in bpm.
    mean_square : float
        Of the differences, in bpm squared.
    mean_absolute_percentage_error : float
        In per cent of the reference.
    reference_mean : float
        In bpm.
    reference_load, tested_load : float
        Training impulse over the common seconds, arbitrary units; NaN where no physiology is known.
    """

    seconds: int
    bias: float
    mean_absolute_error: float
    mean_square: float
    mean_absolute_percentage_error: float
    reference_mean: float
    reference_load: float = math.nan
    tested_load: float = math.nan

    @property
    def sd(self) -> float:
        """Standard deviation of the differences in bpm, divisor n - 1."""
        return math.sqrt(max(self.mean_square - self.bias**2, 0.0) * self.seconds / (self.seconds - 1))

    @property
    def limits_width(self) -> float:
        """Width of the session's limits of agreement in bpm: twice 1.96 standard deviations."""
        return 2 * LIMITS_MULTIPLE * self.sd

    @property
    def load_error(self) -> float:
        """How far the load is off whichever way: 100 times |ln(tested / reference)|, near per cent."""
        if not min(self.reference_load, self.tested_load) > 0:
            return math.nan
        return 100 * abs(math.log(self.tested_load / self.reference_load))


def errors_on_common_seconds(
    reference: FloatArray, tested: Sequence[FloatArray], load_of: Callable[[FloatArray], float] | None
) -> list[SessionError] | None:
    """Errors of sensors worn together, over the seconds valid in the reference and in all of them.

    Parameters
    ----------
    reference : array, shape (seconds,)
        Heart rate in bpm, NaN where missing or cut.
    tested : sequence of array, each of shape (seconds,)
        On the reference's clock.
    load_of : callable or None
        Load of a trace of known rates; None where no physiology is known.

    Returns
    -------
    list of SessionError or None
        In the order given; None where fewer than two seconds are common.

    Raises
    ------
    ValueError
        If traces differ in length.
    """
    if any(len(trace) != len(reference) for trace in tested):
        raise ValueError("traces of one part must have as many seconds each")
    common = np.isfinite(reference) & np.all([np.isfinite(trace) for trace in tested], axis=0)
    if common.sum() < 2:
        return None
    x = reference[common]
    return [_error(x, trace[common], load_of) for trace in tested]


def together(parts: Sequence[SessionError]) -> SessionError:
    """Error over all seconds of several parts, as if they were one.

    Parameters
    ----------
    parts : sequence of SessionError
        At least one.
    """
    seconds = sum(part.seconds for part in parts)

    def mean(name: str) -> float:
        return math.fsum(getattr(part, name) * part.seconds for part in parts) / seconds

    return SessionError(
        seconds=seconds,
        bias=mean("bias"),
        mean_absolute_error=mean("mean_absolute_error"),
        mean_square=mean("mean_square"),
        mean_absolute_percentage_error=mean("mean_absolute_percentage_error"),
        reference_mean=mean("reference_mean"),
        reference_load=math.fsum(part.reference_load for part in parts),
        tested_load=math.fsum(part.tested_load for part in parts),
    )


@dataclass(frozen=True)
class Comparison:
    """A first tested sensor against a second over sessions.

    Attributes
    ----------
    sessions : int
    figures : mapping of str to PairedDifference
        By the names of ``UNITS``; a difference is first less second.
    bias_variance : VarianceRatio or None
        How much the bias varies from session to session, first over second; None with too few sessions.
    """

    sessions: int
    figures: Mapping[str, PairedDifference]
    bias_variance: VarianceRatio | None

    @property
    def main(self) -> PairedDifference:
        """The figure that says which is nearer."""
        return self.figures[MAIN]


def compare_sensors(first: Sequence[SessionError], second: Sequence[SessionError]) -> Comparison:
    """Compare two tested sensors over paired sessions.

    Parameters
    ----------
    first, second : sequence of SessionError
        Session i of the first is that of the second, or matched with it.

    Returns
    -------
    Comparison
        Without intervals below three sessions.

    Raises
    ------
    ValueError
        If the two are not equally long.
    """

    def values(of: Sequence[SessionError], name: str) -> FloatArray:
        return np.array([getattr(one, name) for one in of], dtype=float)

    return Comparison(
        sessions=len(first),
        figures={name: paired_difference(values(first, name), values(second, name)) for name in UNITS},
        bias_variance=variance_ratio(values(first, "bias"), values(second, "bias")),
    )


def _error(
    reference: FloatArray, tested: FloatArray, load_of: Callable[[FloatArray], float] | None
) -> SessionError:
    differences = tested - reference
    return SessionError(
        seconds=len(differences),
        bias=float(differences.mean()),
        mean_absolute_error=float(np.abs(differences).mean()),
        mean_square=float((differences**2).mean()),
        mean_absolute_percentage_error=float(100 * (np.abs(differences) / reference).mean()),
        reference_mean=float(reference.mean()),
        reference_load=load_of(reference) if load_of else math.nan,
        tested_load=load_of(tested) if load_of else math.nan,
    )
