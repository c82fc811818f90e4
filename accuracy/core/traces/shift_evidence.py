"""How strongly every stretch of two traces speaks for every shift between them.

A session is cut into blocks. Within a block the two traces' quick changes may differ by an offset, a scale
and noise of their own, so what a block says of a lag is the profile log-likelihood ``-n/2 log(1 - r**2)`` of
its correlation ``r`` there. Blocks add up; one in which a sensor was wrong correlates at no lag, says
nothing, and so spoils nothing.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from trainlog.trace import FloatArray

COURSE_WIDTHS = (61, 151)
"""Seconds of the moving means taken off before correlating; the evidence is averaged over both (ours).

The offset of a wrist sensor wanders slowly; changes faster than this carry the timing.
"""

BLOCK_SECONDS = 120
"""Length of a block (ours): some edges in each, and enough blocks to resample them."""

SHORT_BLOCK_SECONDS = 60
"""Length of a block in a short session (ours): four minutes then still have four that can contradict."""

HIGHEST_CORRELATION = 0.98
"""Correlation at which a block's evidence is capped (ours), so that no block outvotes all others."""

LEAST_BLOCK_SHARE = 0.5
"""Share of a block's seconds in common below which it says nothing at a lag (ours)."""

INDEPENDENT_SHARE = 0.1
"""Independent readings a second (ours): a wrist sensor's error lasts 5 to 20 s, so ten seconds count as one.

Twice as many called unrelated invented traces aligned; half as many aligned hardly any short session.
"""

MISLED_BLOCKS = 0.3
"""Share of blocks supposed to be wrong whatever they say (ours): a block never rules a lag out by itself."""


@dataclass(frozen=True, eq=False)
class ShiftEvidence:
    """What each block says of each lag.

    Attributes
    ----------
    scores : array, shape (blocks, 2 longest + 1)
        Log-likelihood by lag in whole seconds from ``-longest``; positive lags are a late tested trace.
    common : array, shape (2 longest + 1,)
        Seconds both traces share at each lag.
    centres : array, shape (blocks,)
        Middle of each block in seconds from the first sample.
    """

    scores: FloatArray
    common: FloatArray
    centres: FloatArray


def shift_evidence(
    reference: FloatArray, tested: FloatArray, longest: int, block: int = BLOCK_SECONDS
) -> ShiftEvidence:
    """Evidence of every block for every lag within ``longest`` seconds.

    Parameters
    ----------
    reference, tested : array, shape (seconds,)
        Heart rate in bpm at 1 Hz, NaN for gaps.
    longest : int
        Largest lag in seconds, to either side.
    block : int
        Length of a block in seconds.

    Returns
    -------
    ShiftEvidence
        Symmetric: swapping the traces mirrors the lags.
    """
    blocks = -(-len(reference) // block)
    scores, common = np.zeros((blocks, 2 * longest + 1)), np.zeros(2 * longest + 1)
    for width in COURSE_WIDTHS:
        quick, quick_tested = quick_changes(reference, width), quick_changes(tested, width)
        there, shared = _by_block(quick, quick_tested, longest, block)
        back, shared_back = _by_block(quick_tested, quick, longest, block)
        scores += (there + back[:, ::-1]) / (2 * len(COURSE_WIDTHS))
        common = (shared + shared_back[:, ::-1]).sum(axis=0) / 2
    centres = np.minimum((np.arange(blocks) + 0.5) * block, len(reference) - 1.0)
    return ShiftEvidence(scores, common, centres)


def quick_changes(values: FloatArray, width: int) -> FloatArray:
    """Signal less its centred moving mean of ``width`` seconds, missing seconds left out and kept missing."""
    known = np.isfinite(values)
    if not known.any():
        return values
    middle = values[known].mean()
    sums = np.concatenate([[0.0], np.cumsum(np.where(known, values - middle, 0.0))])
    counts = np.concatenate([[0], np.cumsum(known)])
    at = np.arange(len(values))
    first = np.maximum(at - width // 2, 0)
    last = np.minimum(at + width // 2 + 1, len(values))
    course = (sums[last] - sums[first]) / np.maximum(counts[last] - counts[first], 1)
    return values - middle - course


def sheared(evidence: ShiftEvidence, seconds_per_hour: float, middle: float) -> FloatArray:
    """Scores as if the tested clock's drift were known, shape (blocks, lags).

    Lag 0 of a row then means a lag of ``seconds_per_hour`` times the hours since ``middle``.
    """
    moved = seconds_per_hour * (evidence.centres - middle) / 3600
    lags = np.arange(evidence.scores.shape[1])
    places = lags + moved[:, None]
    below = np.floor(places).astype(int)
    share = places - below
    last = len(lags) - 1
    rows = np.arange(len(moved))[:, None]
    return (1 - share) * evidence.scores[rows, below.clip(0, last)] + share * evidence.scores[
        rows, (below + 1).clip(0, last)
    ]


def lag_probabilities(evidence: ShiftEvidence) -> FloatArray:
    """How probable every lag is, if any was as probable as another before.

    The errors of neighbouring seconds are alike, so a block's log-likelihood counts for the fewer independent
    readings it holds; and any block may have been misled, so what it says is mixed with a lag at random.

    Parameters
    ----------
    evidence : ShiftEvidence
        Of all blocks.

    Returns
    -------
    array, shape (2 longest + 1,)
        Sums to 1. A lag at which too little is in common to speak stays as probable as the average, so a
        search that a short session cannot fill is never sure.
    """
    scores = INDEPENDENT_SHARE * evidence.scores
    said = np.exp(scores - scores.max(axis=1, keepdims=True))
    said /= said.sum(axis=1, keepdims=True)
    together = np.log((1 - MISLED_BLOCKS) * said + MISLED_BLOCKS / said.shape[1]).sum(axis=0)
    probable = np.exp(together - together.max())
    return probable / probable.sum()


def _by_block(
    fixed: FloatArray, moving: FloatArray, longest: int, block: int
) -> tuple[FloatArray, FloatArray]:
    """Score and common seconds of ``fixed[t]`` with ``moving[t + lag]`` by block of ``fixed`` and lag."""
    seconds = len(fixed)
    blocks = -(-seconds // block)
    still = np.full(blocks * block, np.nan)
    still[:seconds] = fixed
    padded = np.full(blocks * block + 2 * longest, np.nan)
    padded[longest : longest + seconds] = moving
    reach = np.arange(blocks)[:, None] * block + np.arange(block + 2 * longest)
    size = fft.next_fast_len(block + 2 * longest, real=True)
    first = fft.rfft(_masked_powers(still.reshape(blocks, block)), size)
    second = fft.rfft(_masked_powers(padded[reach]), size)

    def products(of_fixed: int, of_moving: int) -> FloatArray:
        return fft.irfft(np.conj(first[of_fixed]) * second[of_moving], size)[:, : 2 * longest + 1]

    count = np.rint(products(0, 0))
    most = count.max(axis=1, keepdims=True)
    divisor = np.maximum(count, 1.0)
    sums, sums_moving = products(1, 0), products(0, 1)
    variance = products(2, 0) - sums**2 / divisor
    variance_moving = products(0, 2) - sums_moving**2 / divisor
    covariance = products(1, 1) - sums * sums_moving / divisor
    speaks = (count >= LEAST_BLOCK_SHARE * block) & (count >= most / 2)
    speaks &= (variance > 1e-3 * divisor) & (variance_moving > 1e-3 * divisor)
    correlation = np.where(speaks, covariance / np.sqrt(np.where(speaks, variance * variance_moving, 1.0)), 0)
    score = -0.5 * most * np.log1p(-(correlation.clip(0.0, HIGHEST_CORRELATION) ** 2))
    return _silent_as_average(score, speaks), count


def _silent_as_average(score: FloatArray, speaks: NDArray[np.bool_]) -> FloatArray:
    """Give lags at which a block has too little in common its average, so the ends favour no lag."""
    average = (score * speaks).sum(axis=1, keepdims=True) / np.maximum(speaks.sum(axis=1, keepdims=True), 1)
    return np.where(speaks, score, average)


def _masked_powers(values: FloatArray) -> FloatArray:
    """Mask, values and squares with zeros where nothing is known, shape (3, blocks, seconds)."""
    known = np.isfinite(values)
    filled = np.where(known, values, 0.0)
    return np.stack([known.astype(float), filled, filled**2])
