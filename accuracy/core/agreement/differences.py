"""Differences between a tested and a reference heart rate, and the plain figures made of them.

A difference is always tested minus reference, in bpm: positive where the tested sensor reads high.
"""

from __future__ import annotations

import math

import numpy as np

from trainlog.trace import FloatArray

CLOSE_BPM = 5.0
"""bpm within which a reading is close."""

CLOSE_PERCENT = 10.0
"""Percent of the reference within which a reading is close."""

LEAST_EPOCH_SHARE = 0.5
"""Share of an epoch's seconds that must be known for it to count (ours)."""

EPOCHS = (1, 5, 30, 60)
"""Seconds of the epochs that figures are offered for."""

CORRELATION_BANDS = (
    (0.85, "not usable"),
    (0.90, "not ideal"),
    (0.95, "short of load tracking"),
    (math.inf, "enough for load tracking"),
)
"""Words for a correlation below each edge (trade practice, no published source): orientation, no verdict."""


def common(reference: FloatArray, tested: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Keep the seconds valid in both traces: reference, tested.

    Raises ValueError if the traces differ in length or share fewer than two seconds.
    """
    if len(reference) != len(tested):
        raise ValueError("the two traces must have as many seconds each")
    both = np.isfinite(reference) & np.isfinite(tested)
    if both.sum() < 2:
        raise ValueError("agreement needs at least two common seconds")
    return reference[both], tested[both]


def epochs(values: FloatArray, seconds: int) -> FloatArray:
    """Means of a 1 Hz signal over whole epochs on end.

    Parameters
    ----------
    values : array, shape (n,)
        Signal at 1 Hz, NaN for gaps. Mask a pair's traces to their common seconds first
        (``paired_epochs`` does).
    seconds : int
        Length of an epoch, at least 1.

    Returns
    -------
    array, shape (ceil(n / seconds),)
        Mean of each epoch's known seconds; NaN where fewer than half are known, those beyond the end
        included.

    Raises
    ------
    ValueError
        If ``seconds`` is below 1.

    Examples
    --------
    >>> epochs(np.array([100.0, 102.0, 110.0, np.nan, 90.0]), 2)
    array([101., 110.,  90.])
    """
    if seconds < 1:
        raise ValueError("an epoch lasts at least one second")
    if seconds == 1:
        return values
    padded = np.full(-(-len(values) // seconds) * seconds, np.nan)
    padded[: len(values)] = values
    rows = padded.reshape(-1, seconds)
    known = np.isfinite(rows)
    counts = known.sum(axis=1)
    sums = np.where(known, rows, 0.0).sum(axis=1)
    enough = counts >= max(LEAST_EPOCH_SHARE * seconds, 1)
    return np.where(enough, sums / np.maximum(counts, 1), np.nan)


def paired_epochs(reference: FloatArray, tested: FloatArray, seconds: int) -> tuple[FloatArray, FloatArray]:
    """Epoch means of both traces over their common seconds, NaN in both where too few are common.

    Raises ValueError if the traces differ in length or ``seconds`` is below 1.
    """
    if len(reference) != len(tested):
        raise ValueError("the two traces must have as many seconds each")
    both = np.isfinite(reference) & np.isfinite(tested)
    return (
        epochs(np.where(both, reference, np.nan), seconds),
        epochs(np.where(both, tested, np.nan), seconds),
    )


def bias(differences: FloatArray) -> float:
    """Mean difference in bpm; raises ValueError without two differences."""
    return float(at_least_two(differences).mean())


def sd(differences: FloatArray) -> float:
    """Spread of the differences in bpm: standard deviation, divisor n - 1. Raises ValueError without two."""
    return float(at_least_two(differences).std(ddof=1))


def mean_absolute_error(differences: FloatArray) -> float:
    """Mean size of the differences in bpm; raises ValueError without two differences."""
    return float(np.abs(at_least_two(differences)).mean())


def root_mean_squared_error(differences: FloatArray) -> float:
    """Root of the mean squared difference in bpm; raises ValueError without two differences."""
    return math.sqrt(float((at_least_two(differences) ** 2).mean()))


def mean_absolute_percentage_error(reference: FloatArray, tested: FloatArray) -> float:
    """Mean size of the differences in percent of the reference, over common seconds.

    Raises ValueError if a common reference reading is not positive or fewer than two seconds are common.
    """
    x, y = common(reference, tested)
    if x.min() <= 0:
        raise ValueError("a reference heart rate must be positive")
    return float(100 * (np.abs(y - x) / x).mean())


def pearson_r(reference: FloatArray, tested: FloatArray) -> float:
    """Pearson correlation over common seconds; NaN if either trace never changes there."""
    x, y = (values - values.mean() for values in common(reference, tested))
    scale = math.sqrt(float(x @ x)) * math.sqrt(float(y @ y))
    return float(np.clip(x @ y / scale, -1.0, 1.0)) if scale > 0 else math.nan


def correlation_band(r: float) -> str:
    """Words of trade practice for a correlation: for orientation, since correlation ignores bias."""
    if math.isnan(r):
        return "not defined"
    return next(words for edge, words in CORRELATION_BANDS if r < edge)


def share_within_bpm(differences: FloatArray, bpm: float = CLOSE_BPM) -> float:
    """Share (0 to 1) of the differences no larger than ``bpm``; raises ValueError without two of them."""
    return float((np.abs(at_least_two(differences)) <= bpm).mean())


def share_within_percent(reference: FloatArray, tested: FloatArray, percent: float = CLOSE_PERCENT) -> float:
    """Share (0 to 1) of common seconds on which the tested reads within ``percent`` of the reference."""
    x, y = common(reference, tested)
    return float((np.abs(y - x) <= x * percent / 100).mean())


def share_within_either(reference: FloatArray, tested: FloatArray) -> float:
    """Share of common seconds within 10% of the reference or 5 bpm, whichever is greater.

    The criterion is attributed to ANSI/AAMI EC13:2002 (R2007), from memory; its text was not seen.
    """
    x, y = common(reference, tested)
    return float(close(x, y).mean())


def close(reference: FloatArray, tested: FloatArray) -> np.ndarray:
    """Mark where the tested reads within 10% of the reference or 5 bpm, whichever is greater."""
    return np.abs(tested - reference) <= np.maximum(reference * CLOSE_PERCENT / 100, CLOSE_BPM)


def effective_size(differences: FloatArray) -> float:
    """How many independent differences say as much about their mean as these correlated ones.

    Parameters
    ----------
    differences : array, shape (n,)
        In order of time.

    Returns
    -------
    float
        ``n`` over the integrated autocorrelation time, from 2 to n: sums of adjacent autocorrelations up
        to the first that is not positive (initial positive sequence).

    References
    ----------
    Geyer CJ (1992). Practical Markov chain Monte Carlo. Stat Sci 7:473-483.
    """
    n = len(at_least_two(differences))
    centred = differences - differences.mean()
    power = float(centred @ centred)
    if power <= 1e-12 * n:
        return float(n)
    size = 1 << (2 * n - 1).bit_length()
    spectrum = np.fft.rfft(centred, size)
    autocorrelation = np.fft.irfft(np.abs(spectrum) ** 2, size)[:n] / power
    pairs = autocorrelation[: n // 2 * 2].reshape(-1, 2).sum(axis=1)
    stop = int(np.argmax(pairs <= 0)) if (pairs <= 0).any() else len(pairs)
    time = 2 * float(pairs[:stop].sum()) - 1
    return float(min(max(n / max(time, 1e-9), 2.0), n))


def at_least_two(differences: FloatArray) -> FloatArray:
    """Pass on two or more differences; raises ValueError without."""
    if len(differences) < 2:
        raise ValueError("agreement needs at least two differences")
    return differences


def plain(figures: dict) -> dict:
    """Make figures ready for JSON and CSV: arrays become lists, numbers Python's, and NaN None.

    Parameters
    ----------
    figures : dict
        Nested dictionaries, tuples, lists, arrays and scalars.

    Returns
    -------
    dict
        The same with nothing in it but dict, list, str, bool, int, float and None.
    """
    return {str(name): _plain(value) for name, value in figures.items()}


def _plain(value: object) -> object:
    if isinstance(value, dict):
        return plain(value)
    if isinstance(value, (list, tuple)):
        return [_plain(item) for item in value]
    if isinstance(value, (np.ndarray, np.generic)):
        return _plain(value.tolist())
    return None if isinstance(value, float) and not math.isfinite(value) else value
