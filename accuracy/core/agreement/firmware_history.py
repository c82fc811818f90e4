"""How a sensor's load error lay under each version of its firmware, and whether a new one changed it."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TypeVar

import numpy as np
from scipy import special

from accuracy.core.agreement.paired_differences import holm
from trainlog.trace import FloatArray

Key = TypeVar("Key")

FEWEST_PAIRS = 3
"""Pairs of a version below which it has no interval and no change is judged (ours)."""

CLEAR_BELOW = 0.05
"""P of a change below which it is called clear (usual convention)."""


@dataclass(frozen=True)
class VersionError:
    """Pairs of one version.

    Attributes
    ----------
    version : str
        Empty where none was noted.
    pairs : int
    ratio : float
        Geometric mean of reference load over tested load, no unit; above 1 the sensor reads low.
    low, high : float
        95% interval of that mean, by Student's t on the logarithms; NaN below ``FEWEST_PAIRS``.
    """

    version: str
    pairs: int
    ratio: float
    low: float = math.nan
    high: float = math.nan


@dataclass(frozen=True)
class VersionChange:
    """A version against the one before.

    Attributes
    ----------
    factor : float
        Ratio after it over the ratio before.
    low, high : float
        95% interval of that factor, by Welch's t on the logarithms.
    p : float
        Two-sided, of the same test.
    adjusted_p : float
        Adjusted for all changes that were looked at together (Holm).
    """

    factor: float
    low: float
    high: float
    p: float
    adjusted_p: float

    @property
    def is_clear(self) -> bool:
        """Whether chance is a poor explanation, after adjusting."""
        return self.adjusted_p < CLEAR_BELOW


@dataclass(frozen=True)
class FirmwareHistory:
    """Versions in the order they came; ``changes[i]`` leads to ``versions[i + 1]``, None with few pairs."""

    versions: Sequence[VersionError]
    changes: Sequence[VersionChange | None]


def firmware_histories(
    log_ratios: Mapping[Key, Sequence[tuple[str, Sequence[float]]]],
) -> dict[Key, FirmwareHistory]:
    """Histories of several cells of one sensor, their changes adjusted together.

    Parameters
    ----------
    log_ratios : mapping
        By cell: each version in order with the natural logarithms of its pairs' reference load over tested
        load; versions without a pair left out.

    Returns
    -------
    dict
        By cell.

    References
    ----------
    Welch BL (1947). The generalization of Student's problem when several different population variances
    are involved. Biometrika 34:28-35.
    """
    changes = {
        key: [
            _change(np.asarray(before), np.asarray(after)) for (_, before), (_, after) in pairwise(versions)
        ]
        for key, versions in log_ratios.items()
    }
    looked_at = [(key, place) for key, own in changes.items() for place, one in enumerate(own) if one]
    adjusted = holm([one.p for own in changes.values() for one in own if one])
    by_place = dict(zip(looked_at, adjusted, strict=True))
    return {
        key: FirmwareHistory(
            [_version(name, np.asarray(values)) for name, values in versions],
            [one and replace(one, adjusted_p=by_place[key, at]) for at, one in enumerate(changes[key])],
        )
        for key, versions in log_ratios.items()
    }


def _version(name: str, logs: FloatArray) -> VersionError:
    mean = float(np.sort(logs).mean())
    if len(logs) < FEWEST_PAIRS:
        return VersionError(name, len(logs), math.exp(mean))
    reach = float(special.stdtrit(len(logs) - 1, 0.975)) * math.sqrt(_error(logs))
    return VersionError(name, len(logs), math.exp(mean), math.exp(mean - reach), math.exp(mean + reach))


def _change(before: FloatArray, after: FloatArray) -> VersionChange | None:
    if min(len(before), len(after)) < FEWEST_PAIRS:
        return None
    errors = _error(before), _error(after)
    total = errors[0] + errors[1]
    difference = float(np.sort(after).mean() - np.sort(before).mean())
    if total <= 1e-18:  # nothing but rounding
        return None
    freedom = total**2 / (errors[0] ** 2 / (len(before) - 1) + errors[1] ** 2 / (len(after) - 1))
    reach = float(special.stdtrit(freedom, 0.975)) * math.sqrt(total)
    p = float(2 * special.stdtr(freedom, -abs(difference) / math.sqrt(total)))
    ends = math.exp(difference - reach), math.exp(difference + reach)
    return VersionChange(math.exp(difference), *ends, p, p)


def _error(logs: FloatArray) -> float:
    """Squared standard error of a mean."""
    return float(np.var(logs, ddof=1)) / len(logs)
