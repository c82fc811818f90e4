"""A load is a vector of equally likely values in a fixed order; this module makes and reads such vectors."""

from __future__ import annotations

import hashlib
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy import special

from trainlog.trace import FloatArray

Interval = tuple[float, float, float]
"""Lower bound, median and upper bound."""

DRAWS = 512
"""Number of equally likely values of every load, parameter and physiology figure."""

REMEMBERED = 512
"""Seeds whose draws are at hand: those of an athlete come again with every session, and those of a session
with every way of estimating it."""


@lru_cache(REMEMBERED)
def stratified_uniforms(seed: str, *, count: int = DRAWS) -> FloatArray:
    """Uniform draws, one in each of ``count`` equal slices of (0, 1), in an order set by the seed.

    Parameters
    ----------
    seed : str
        Any text. The same text gives the same draws on every machine.
    count : int
        Number of draws.

    Returns
    -------
    array, shape (count,)
        Draws strictly inside (0, 1); not to be written to.
    """
    digest = hashlib.sha256(seed.encode()).digest()
    rng = np.random.Generator(np.random.PCG64(int.from_bytes(digest[:16], "big")))
    # The middle of the slice and not a random place in it: medians do not wander between seeds.
    draws: FloatArray = (rng.permutation(count) + 0.5) / count
    draws.setflags(write=False)
    return draws


@lru_cache(REMEMBERED)
def standard_normals(seed: str) -> FloatArray:
    """Stratified standard normal draws for the seed, shape (DRAWS,); not to be written to."""
    draws: FloatArray = special.ndtri(stratified_uniforms(seed))
    draws.setflags(write=False)
    return draws


def session_seed(content_hash: str, purpose: str) -> str:
    """Seed of what is peculiar to one session: its content, never a primary key or import order."""
    return f"session/{purpose}/{content_hash}"


def athlete_seed(athlete_seed_value: int, parameter: str) -> str:
    """Seed of what an athlete's sessions share; unchanged by refits."""
    return f"athlete/{athlete_seed_value}/{parameter}"


def interval(draws: FloatArray, coverage: float = 0.8) -> Interval:
    """Median and central interval of draws.

    Parameters
    ----------
    draws : array, shape (DRAWS,)
        Equally likely values.
    coverage : float
        Probability inside the interval.

    Returns
    -------
    tuple of float
        Lower bound, median, upper bound, in the unit of the draws.
    """
    return intervals(np.asarray(draws)[np.newaxis], coverage)[0]


def intervals(draws: FloatArray, coverage: float = 0.8) -> list[Interval]:
    """Medians and central intervals of several loads in one go.

    Parameters
    ----------
    draws : array, shape (loads, DRAWS)
        Equally likely values of each.
    coverage : float
        Probability inside each interval.
    """
    tail = (1 - coverage) / 2
    bounds = np.quantile(draws, [tail, 0.5, 1 - tail], axis=-1)
    return [(float(low), float(median), float(high)) for low, median, high in bounds.T]


def relative_half_width(draws: FloatArray) -> float:
    """Half the width of the 80% interval over the median; infinite where the median is zero."""
    return half_width_over_median(interval(draws))


def half_width_over_median(interval: Interval) -> float:
    """Half the width of an interval over its median; infinite where the median is zero."""
    low, median, high = interval
    return (high - low) / 2 / median if median > 0 else float("inf")


def probability_greater(a: FloatArray, b: FloatArray) -> float:
    """Probability that ``a`` exceeds ``b``, draw by draw; ties count half."""
    return float(np.mean((a > b) + 0.5 * (a == b)))


def rounded_probability(probability: float) -> int:
    """Probability in per cent to the nearest 5, never 0 or 100: draws cannot prove certainty."""
    return int(np.clip(round(probability * 20) * 5, 5, 95))


def pack(draws: FloatArray) -> bytes:
    """Little-endian float32 bytes of draws, for a database column."""
    return np.asarray(draws, dtype="<f4").tobytes()


def unpack(stored: bytes | memoryview) -> FloatArray:
    """Draws from their stored bytes, shape (DRAWS,)."""
    values: NDArray[np.float32] = np.frombuffer(stored, dtype="<f4")
    return values.astype(np.float64)
