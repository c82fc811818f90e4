"""Error by intensity and by direction of change, in heart rate and in load."""

from __future__ import annotations

import math
from dataclasses import asdict, dataclass

import numpy as np

from accuracy.core.agreement.differences import close, plain
from trainlog.load.intensity import BANDS_OF_RESERVE
from trainlog.load.trimp import Weighting, load_per_minute
from trainlog.trace import FloatArray

INTENSITY_BANDS = BANDS_OF_RESERVE
"""Name and edges in percent of heart-rate reserve; a second's band is told by the reference."""

CHANGE_SECONDS, CHANGE_BPM = 10, 3.0
"""Seconds over which the reference's change is taken, and bpm from which it rises or falls (ours)."""


@dataclass(frozen=True)
class ConditionError:
    """Error over the seconds of one condition.

    Attributes
    ----------
    condition : str
        Name of the band or direction.
    seconds : int
        Common seconds in it.
    bias, sd, mean_absolute_error : float
        bpm; NaN without seconds (sd: without two).
    mean_absolute_percentage_error : float
        Percent of the reference.
    share_within_either : float
        Share (0 to 1) within 10% or 5 bpm.
    load_difference : float
        Percent by which the tested load of these seconds differs from the reference's; NaN without load.
    """

    condition: str
    seconds: int
    bias: float
    sd: float
    mean_absolute_error: float
    mean_absolute_percentage_error: float
    share_within_either: float
    load_difference: float

    def as_dict(self) -> dict:
        """Figures by name, ready for JSON."""
        return plain(asdict(self))


def error_by_intensity(
    reference: FloatArray, tested: FloatArray, *, resting: float, maximum: float, weighting: Weighting
) -> list[ConditionError]:
    """Error in each band of heart-rate reserve.

    Parameters
    ----------
    reference, tested : array, shape (seconds,)
        Heart rate in bpm at 1 Hz, NaN for gaps.
    resting, maximum : float
        Resting and maximum heart rate in bpm.
    weighting : Weighting
        Of the training impulse.

    Returns
    -------
    list of ConditionError
        One for each of ``INTENSITY_BANDS``, empty ones included.

    Raises
    ------
    ValueError
        If the traces differ in length or the maximum does not exceed resting.
    """
    if maximum <= resting:
        raise ValueError("maximum heart rate must exceed resting heart rate")
    percent = 100 * (reference - resting) / (maximum - resting)
    conditions = [
        (name, np.greater_equal(percent, low) & np.less(percent, high)) for name, low, high in INTENSITY_BANDS
    ]
    return _errors(reference, tested, conditions, resting, maximum, weighting)


def error_by_direction(
    reference: FloatArray, tested: FloatArray, *, resting: float, maximum: float, weighting: Weighting
) -> list[ConditionError]:
    """Error while the reference rises, stays level and falls.

    The reference's change from 5 s before to 5 s after decides: 3 bpm and more is rising or falling. Seconds
    whose change is not known are left out. Parameters, result and errors as in ``error_by_intensity``.
    """
    half = CHANGE_SECONDS // 2
    change = np.full(len(reference), np.nan)
    change[half:-half] = reference[2 * half :] - reference[: -2 * half]
    known = np.isfinite(change)
    conditions = [
        ("rising", np.greater_equal(change, CHANGE_BPM)),
        ("level", known & np.less(np.abs(change), CHANGE_BPM)),
        ("falling", np.less_equal(change, -CHANGE_BPM)),
    ]
    return _errors(reference, tested, conditions, resting, maximum, weighting)


def load_difference(
    reference: FloatArray, tested: FloatArray, *, resting: float, maximum: float, weighting: Weighting
) -> float:
    """Percent by which the tested load of the common seconds differs from the reference's.

    Parameters as in ``error_by_intensity``; NaN where the reference has no load.
    """
    everything = [("all", np.isfinite(reference))]
    return _errors(reference, tested, everything, resting, maximum, weighting)[0].load_difference


def _errors(
    reference: FloatArray,
    tested: FloatArray,
    conditions: list[tuple[str, np.ndarray]],
    resting: float,
    maximum: float,
    weighting: Weighting,
) -> list[ConditionError]:
    if len(reference) != len(tested):
        raise ValueError("the two traces must have as many seconds each")
    both = np.isfinite(reference) & np.isfinite(tested)
    loads = [load_per_minute(values, resting, maximum, weighting) for values in (reference, tested)]
    return [_error(name, reference, tested, loads, mask & both) for name, mask in conditions]


def _error(
    name: str, reference: FloatArray, tested: FloatArray, loads: list[FloatArray], mask: np.ndarray
) -> ConditionError:
    x, y = reference[mask], tested[mask]
    if not len(x):
        return ConditionError(name, 0, *[math.nan] * 6)
    difference = y - x
    size = np.abs(difference)
    of_reference, of_tested = (float(load[mask].sum()) for load in loads)
    return ConditionError(
        name,
        len(x),
        float(difference.mean()),
        float(difference.std(ddof=1)) if len(x) > 1 else math.nan,
        float(size.mean()),
        float(100 * (size / x).mean()) if x.min() > 0 else math.nan,
        float(close(x, y).mean()),
        100 * (of_tested / of_reference - 1) if of_reference > 0 else math.nan,
    )
