"""How late the tested sensor's clock runs, found from the two traces alone.

Sign, everywhere: a **positive** shift means that events appear later in the tested trace than in the
reference, so the tested trace has to be moved earlier: ``shifted(tested, -shift.seconds)``. Moving a
trace later is ``shifted(values, +seconds)``; ``estimate_shift(a, shifted(a, 7.0))`` is about +7.

A sensor that follows the heart late is indistinguishable here from a clock that runs late, so a found
shift contains the sensor's own lag. Where both clocks are known to agree, ``no_shift`` is the answer.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import fft

from trainlog.trace import FloatArray

LONGEST_SHIFT = 120
"""Seconds searched to either side (common practice, no source)."""

LEAST_COMMON_SECONDS = 480
"""Seconds both traces must share at a shift for it to be judged (ours).

A few minutes hold too few changes: a seven-minute session of the one-athlete study, its clocks known to
agree, would be moved by 51 s.
"""

LEAST_COMMON_SHARE = 0.5
"""Share of the best-covered shift's common seconds that a judged shift needs (common practice, no source)."""

COURSE_SECONDS = 151
"""Width of the moving mean taken off before correlating (ours).

The offset of a wrist sensor wanders slowly; changes faster than this carry the timing. In the
one-athlete sessions the two halves' lags agreed more often at 151 s than with the plain traces.
"""

LEAST_CORRELATION = 0.6
"""Correlation of the quick changes below which no shift is believed (ours, by trial)."""

CLEAR_GAIN = 1.25
"""Unexplained variance at zero, and at any rival, over that at the best shift, at least (ours, by trial)."""

RIVAL_DISTANCE = 15
"""Seconds from the best shift beyond which another peak counts as a rival (common practice, no source)."""

NEGLIGIBLE_SHIFT = 1.0
"""Seconds; a best shift below this leaves the traces where they are (one sample)."""

FEWEST_CHANGES = 2.0
"""Standard deviation in bpm of the reference's quick changes under which work was steady (ours)."""

TOO_SHORT = "The two traces share too few seconds with any change to align them."
UNALIKE = "The two traces do not rise and fall together closely enough to align them."


@dataclass(frozen=True)
class Shift:
    """By how much the tested trace runs late.

    Attributes
    ----------
    seconds : float
        Positive: the tested trace's events appear later, and it must be moved earlier by this much.
        Zero where the evidence is not clear.
    correlation_at_shift, correlation_at_zero : float
        Pearson correlation of the two traces' quick changes (each trace less its moving mean over
        ``COURSE_SECONDS``) at the best shift that was found, used or not, and unshifted. NaN where undefined.
    ambiguous : bool
        True if the traces do not tell how the clocks differ.
    reason : str
        One sentence for a person.
    """

    seconds: float
    correlation_at_shift: float
    correlation_at_zero: float
    ambiguous: bool
    reason: str


def no_shift(reason: str = "Both clocks are synchronised.") -> Shift:
    """Shift of nothing, for clocks that are known to agree."""
    return Shift(0.0, np.nan, np.nan, ambiguous=False, reason=reason)


def shifted(values: FloatArray, seconds: float) -> FloatArray:
    """Move a 1 Hz signal in time on its own grid.

    Parameters
    ----------
    values : array, shape (n,)
        Signal at 1 Hz, NaN for gaps.
    seconds : float
        Positive moves the signal later: the result at second ``t`` is the signal at ``t - seconds``.
        Between two samples the signal is interpolated linearly.

    Returns
    -------
    array, shape (n,)
        NaN where the signal does not reach, and where an interpolated sample has a missing neighbour.
    """
    n = len(values)
    places = np.arange(n) - seconds
    before = np.floor(places).astype(int)
    share = places - before
    padded = np.append(values, np.nan)
    here = padded[np.where((before >= 0) & (before < n), before, n)]
    if not share.any():
        return here
    after = padded[np.where((before >= -1) & (before < n - 1), before + 1, n)]
    return (1 - share) * here + share * after


def estimate_shift(reference: FloatArray, tested: FloatArray, *, longest: int = LONGEST_SHIFT) -> Shift:
    """Shift at which two heart-rate traces rise and fall together best.

    The slow course (a moving mean) is taken off both traces, and the rest is correlated at every whole
    second in reach, leaving missing seconds out (masked normalised cross-correlation); a parabola through
    the peak gives the fraction. No shift is preferred: one is used only if the correlation is high, the peak
    lies inside the search, no distant shift does nearly as well, and zero does clearly worse.

    Parameters
    ----------
    reference, tested : array, shape (seconds,)
        Heart rate in bpm on the same nominal 1 Hz grid, NaN for gaps.
    longest : int
        Largest shift searched in seconds, to either side.

    Returns
    -------
    Shift
        Seconds the tested trace runs late (positive) or early (negative); 0 and ambiguous if unclear.

    Raises
    ------
    ValueError
        If the two arrays differ in length.

    References
    ----------
    Padfield D (2012). Masked object registration in the Fourier domain. IEEE Trans Image Process
    21(5):2706-2718 (the masked correlation; the decision rules are ours).
    """
    if len(reference) != len(tested):
        raise ValueError("the two traces must be on one grid, with as many seconds each")
    quick, quick_tested = _quick_changes(reference), _quick_changes(tested)
    correlation = _correlation_by_lag(quick, quick_tested, longest)
    at_zero = float(correlation[longest])
    if np.isnan(correlation).all():
        return Shift(0.0, np.nan, np.nan, True, TOO_SHORT)
    best, at_best = _peak(correlation, longest)
    why_not = _why_not(correlation, best, at_best, longest, quick)
    if why_not:
        return Shift(0.0, at_best, at_zero, True, why_not)
    if abs(best) < NEGLIGIBLE_SHIFT:
        return Shift(0.0, at_best, at_zero, False, "The traces agree best where they are.")
    direction = "later" if best > 0 else "earlier"
    sentence = f"The tested trace's rises and falls come {abs(best):.1f} s {direction} than the reference's."
    return Shift(best, at_best, at_zero, False, sentence)


def _why_not(
    correlation: FloatArray, best: float, at_best: float, longest: int, quick: FloatArray
) -> str | None:
    """Sentence on why a best shift is not believed, or None if it is."""
    if at_best < LEAST_CORRELATION:
        steady = np.nanstd(quick) < FEWEST_CHANGES
        return "The work was steady: the traces have no edges to align." if steady else UNALIKE
    if abs(best) < NEGLIGIBLE_SHIFT:
        return None
    if abs(best) > longest - 1:
        return f"The best shift lies at the edge of the search ({longest} s)."
    unexplained = CLEAR_GAIN * (1 - at_best**2)
    lags = np.arange(-longest, longest + 1)
    rivals = correlation[_is_local_peak(correlation) & (np.abs(lags - best) > RIVAL_DISTANCE)]
    if len(rivals) and 1 - max(rivals.max(), 0.0) ** 2 < unexplained:
        return "Several shifts fit nearly as well, as repeated intervals do."
    if 1 - max(np.nan_to_num(correlation[longest]), 0.0) ** 2 < unexplained:
        return "The best shift is not clearly better than none."
    return None


def _quick_changes(values: FloatArray) -> FloatArray:
    """Signal less its centred moving mean, missing seconds left out and kept missing."""
    known = np.isfinite(values)
    if not known.any():
        return values
    middle = values[known].mean()
    sums = np.concatenate([[0.0], np.cumsum(np.where(known, values - middle, 0.0))])
    counts = np.concatenate([[0], np.cumsum(known)])
    at = np.arange(len(values))
    first = np.maximum(at - COURSE_SECONDS // 2, 0)
    last = np.minimum(at + COURSE_SECONDS // 2 + 1, len(values))
    course = (sums[last] - sums[first]) / np.maximum(counts[last] - counts[first], 1)
    return values - middle - course


def _correlation_by_lag(reference: FloatArray, tested: FloatArray, longest: int) -> FloatArray:
    """Pearson correlation of ``reference[t]`` and ``tested[t + lag]``, shape (2 longest + 1,).

    Every lag uses its own common seconds, with their own means and variances; NaN where they are too few.
    """
    size = fft.next_fast_len(len(reference) + longest + 1, real=True)
    spectra = [fft.rfft(_masked_powers(values), size) for values in (reference, tested)]

    def products(of_reference: int, of_tested: int) -> FloatArray:
        circular = fft.irfft(np.conj(spectra[0][of_reference]) * spectra[1][of_tested], size)
        return np.concatenate([circular[-longest:], circular[: longest + 1]])

    count = np.rint(products(0, 0))
    enough = count >= max(LEAST_COMMON_SECONDS, LEAST_COMMON_SHARE * count.max())
    divisor = np.where(enough, count, 1.0)
    sum_reference, sum_tested = products(1, 0), products(0, 1)
    variances = (products(2, 0) - sum_reference**2 / divisor) * (products(0, 2) - sum_tested**2 / divisor)
    covariance = products(1, 1) - sum_reference * sum_tested / divisor
    defined = enough & (variances > (1e-6 * divisor) ** 2)
    correlation = np.full(len(count), np.nan)
    correlation[defined] = (covariance[defined] / np.sqrt(variances[defined])).clip(-1.0, 1.0)
    return correlation


def _masked_powers(values: FloatArray) -> FloatArray:
    """Mask, values and squares with zeros where nothing is known, shape (3, seconds)."""
    known = np.isfinite(values)
    filled = np.where(known, values, 0.0)
    return np.stack([known.astype(float), filled, filled**2])


def _is_local_peak(correlation: FloatArray) -> np.ndarray:
    """Mark lags whose neighbours correlate no better, the ends of the search included."""
    padded = np.concatenate([[-np.inf], np.nan_to_num(correlation, nan=-np.inf), [-np.inf]])
    middle = padded[1:-1]
    return np.isfinite(middle) & (middle >= padded[:-2]) & (middle >= padded[2:])


def _peak(correlation: FloatArray, longest: int) -> tuple[float, float]:
    """Best lag in seconds, refined by a parabola through its neighbours, and its correlation."""
    at = int(np.nanargmax(correlation))
    best = float(correlation[at])
    offset = 0.0
    if 0 < at < 2 * longest:
        left, right = correlation[at - 1], correlation[at + 1]
        bend = left - 2 * best + right
        if bend < 0:
            offset = float(0.5 * (left - right) / bend)
    return at - longest + offset, best
