"""How late the tested sensor's clock runs, found from the two traces alone.

Sign, everywhere: a **positive** shift means that events appear later in the tested trace than in the
reference, so the tested trace has to be moved earlier: ``shifted(tested, -shift.seconds)``, or
``moved(tested, shift)``, which takes back a drift too. Moving a trace later is ``shifted(values, +seconds)``;
``estimate_shift(a, shifted(a, 7.0))`` is about +7.

A sensor that follows the heart late is indistinguishable here from a clock that runs late, so a found
shift contains the sensor's own lag. Where both clocks are known to agree, ``no_shift`` is the answer.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from accuracy.core.traces.shift_evidence import (
    SHORT_BLOCK_SECONDS,
    ShiftEvidence,
    lag_probabilities,
    quick_changes,
    sheared,
    shift_evidence,
)
from trainlog.trace import FloatArray

LONGEST_SHIFT = 120
"""Seconds searched to either side (common practice, no source)."""

LEAST_COMMON_SECONDS = 120
"""Seconds both traces must share at a shift for it to be judged (ours): two short blocks to contradict."""

SHORT_SECONDS = 1200
"""Common seconds below which a session is short (ours): ten blocks of two minutes are few to resample.

Resampled, pieces of eight minutes of real sessions were wrong in one of thirteen that were called sure.
"""

SURE = 0.95
"""Probability that the clocks differ by the shift to ``CLOSE_SECONDS``, needed in a short session (ours).

A seven-minute session of the one-athlete study, its clocks known to agree, speaks for 57 s at 0.4.
"""

LEAST_COMMON_SHARE = 0.5
"""Share of the best-covered shift's common seconds that a judged shift needs (common practice, no source)."""

CLOSE_SECONDS = 2.0
"""Seconds within which resampled sessions must find the same shift (ours)."""

LEAST_AGREEMENT = 0.9
"""Share of the resampled sessions that must find it (ours, by trial)."""

LEAST_EVIDENCE = 20.0
"""Log-likelihood over traces that have nothing in common, at least (ours)."""

RIVAL_DISTANCE = 15
"""Seconds from the best shift beyond which another peak counts as a rival (common practice, no source)."""

RIVAL_SHARE = 0.8
"""Share of the best shift's evidence at which a rival makes it ambiguous, as in repeated intervals (ours)."""

PEAK_REACH = 5
"""Seconds to either side of the most probable shift over which its fraction is averaged (ours)."""

NEGLIGIBLE_SHIFT = 1.0
"""Seconds; a best shift below this leaves the traces where they are (one sample)."""

FEWEST_CHANGES = 2.0
"""Standard deviation in bpm of the reference's quick changes under which work was steady (ours)."""

LEAST_CORRELATION = 0.6
"""Correlation of the quick changes below which traces are called unlike in the reason (ours)."""

LONG_SECONDS = 3600
"""Seconds both traces must share before drift is looked for (common practice, no source)."""

FASTEST_DRIFT = 10.0
"""Seconds an hour of drift searched, to either side (ours; a quartz clock drifts by under 1)."""

DRIFT_STEP = 1.0
"""Seconds an hour between the drifts that are tried (ours)."""

CLEAR_DRIFT = 2.5
"""Standard errors by which the blocks must prefer drift over none (ours)."""

LEAST_DRIFT = 2.0
"""Seconds that a drift must add up to over the session to be used (ours)."""

RESAMPLINGS = 200
"""Bootstrap draws of blocks (ours)."""

TOO_SHORT = "The two traces share too few seconds with any change to align them."
RIVALS = "Several shifts fit nearly as well, as repeated intervals do."
UNALIKE = "The two traces do not rise and fall together closely enough to align them."


@dataclass(frozen=True)
class Shift:
    """By how much the tested trace runs late.

    Attributes
    ----------
    seconds : float
        Positive: the tested trace's events appear later, and it must be moved earlier by this much, with a
        drift at the middle of the traces. Zero where the evidence is not clear.
    correlation_at_shift, correlation_at_zero : float
        Pearson correlation of the two traces' quick changes (each trace less its moving mean over 151 s)
        at the best whole-second shift that was found, used or not, and unshifted. NaN where undefined.
    ambiguous : bool
        True if the traces do not tell how the clocks differ.
    reason : str
        One sentence for a person.
    uncertainty : float
        Standard error in seconds of the best shift that was found, used or not: root mean squared departure
        from it over ``RESAMPLINGS`` bootstrap draws of two-minute blocks, in a short session over the
        probabilities of all shifts. NaN where nothing was searched.
    drift : float
        Seconds an hour by which the tested clock falls further behind; 0 unless clear.
    """

    seconds: float
    correlation_at_shift: float
    correlation_at_zero: float
    ambiguous: bool
    reason: str
    uncertainty: float = np.nan
    drift: float = 0.0


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
    return _at(values, np.arange(len(values)) - seconds)


def moved(tested: FloatArray, shift: Shift) -> FloatArray:
    """Put the tested trace on the reference's clock: its shift, and its drift if it has one, taken back.

    Parameters
    ----------
    tested : array, shape (n,)
        Signal at 1 Hz on the tested sensor's clock, NaN for gaps.
    shift : Shift
        Estimated on traces of the same length.

    Returns
    -------
    array, shape (n,)
        As ``shifted``; the same array if there is nothing to move.
    """
    if not shift.drift:
        return shifted(tested, -shift.seconds) if shift.seconds else tested
    at = np.arange(len(tested))
    return _at(tested, at + shift.seconds + shift.drift * (at - (len(tested) - 1) / 2) / 3600)


def estimate_shift(reference: FloatArray, tested: FloatArray, *, longest: int = LONGEST_SHIFT) -> Shift:
    """Shift at which two heart-rate traces rise and fall together best.

    The slow course is taken off both traces, and two-minute blocks of one are correlated with the other at
    every whole second in reach (masked normalised cross-correlation); the blocks' evidence is added up and a
    parabola through the peak gives the fraction. The sum is repeated on bootstrap draws of the blocks: a
    shift is used only if nine in ten draws find it to 2 s, it lies inside the search, and no distant shift
    does nearly as well. Under 20 minutes there are too few blocks to resample: what each minute says is
    turned into a probability of every shift, and one is used if it is right to 2 s with 95%. Over an hour
    and more, drift of the clock is searched as well and used where the blocks clearly prefer it.

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
    if not len(reference):
        return Shift(0.0, np.nan, np.nan, True, TOO_SHORT)
    evidence = shift_evidence(reference, tested, longest)
    most = evidence.common.max()
    if most < LEAST_COMMON_SECONDS or not evidence.scores.any():
        return Shift(0.0, np.nan, np.nan, True, TOO_SHORT)
    judged = evidence.common >= max(LEAST_COMMON_SECONDS, LEAST_COMMON_SHARE * most)
    drift = 0.0
    if most < SHORT_SECONDS:
        in_minutes = shift_evidence(reference, tested, longest, SHORT_BLOCK_SECONDS)
        best, spread, why_not = _most_probable(lag_probabilities(in_minutes), judged, longest)
    else:
        middle = (len(reference) - 1) / 2
        drift = _drift(evidence, judged, middle) if most >= LONG_SECONDS else 0.0
        scores = sheared(evidence, drift, middle) if drift else evidence.scores
        best, spread, why_not = _resampled(scores, judged, longest)
    quick, quick_tested = quick_changes(reference, 151), quick_changes(tested, 151)
    at_best, at_zero = _correlation(quick, quick_tested, round(best)), _correlation(quick, quick_tested, 0)
    if why_not == UNALIKE or (why_not == RIVALS and not at_best >= LEAST_CORRELATION):
        why_not = _unclear(spread, at_best, quick)
    if why_not:
        return Shift(0.0, at_best, at_zero, True, why_not, spread)
    if abs(best) < NEGLIGIBLE_SHIFT and not drift:
        return Shift(0.0, at_best, at_zero, False, "The traces agree best where they are.", spread)
    return Shift(best, at_best, at_zero, False, _sentence(best, spread, drift), spread, drift)


def _most_probable(
    probable: FloatArray, judged: NDArray[np.bool_], longest: int
) -> tuple[float, float, str | None]:
    """Most probable shift, its standard error in seconds, and why it is not believed, if it is not."""
    lags = np.arange(-longest, longest + 1)
    around = np.where(np.abs(lags - lags[probable.argmax()]) <= PEAK_REACH, probable, 0.0)
    best = float(around @ lags / around.sum())
    spread = float(np.sqrt(probable @ (lags - best) ** 2))
    if abs(best) > longest - 1:
        return best, spread, _at_the_edge(longest)
    if not judged[probable.argmax()]:
        return best, spread, TOO_SHORT
    if probable[np.abs(lags - best) <= CLOSE_SECONDS].sum() >= SURE:
        return best, spread, None
    far = np.abs(lags - best) > RIVAL_DISTANCE
    return best, spread, RIVALS if probable[far].max() >= RIVAL_SHARE * probable.max() else UNALIKE


def _resampled(
    scores: FloatArray, judged: NDArray[np.bool_], longest: int
) -> tuple[float, float, str | None]:
    """Best shift, its standard error over resampled blocks in seconds, and why it is not believed."""
    total, found = _peaks(scores, judged, longest)
    best = float(found[0])
    spread = float(np.sqrt(np.mean((found[1:] - best) ** 2)))
    agreement = float((np.abs(found[1:] - best) <= CLOSE_SECONDS).mean())
    return best, spread, _why_not(total, best, agreement, longest)


def _peaks(scores: FloatArray, judged: np.ndarray, longest: int) -> tuple[FloatArray, FloatArray]:
    """Evidence by lag, and the best lag in seconds of all blocks (first) and of every bootstrap draw."""
    blocks = len(scores)
    rng = np.random.default_rng(0)
    weights = rng.multinomial(blocks, np.full(blocks, 1 / blocks), size=RESAMPLINGS).astype(float)
    totals = np.einsum("db,bl->dl", np.vstack([np.ones(blocks), weights]), scores)  # BLAS threads cost more
    totals[:, ~judged] = -1.0
    row = np.arange(len(totals))
    top = totals.argmax(axis=1)
    at = top.clip(1, 2 * longest - 1)
    left, peak, right = (totals[row, at + step] for step in (-1, 0, 1))
    bend = left - 2 * peak + right
    fraction = np.where(bend < 0, 0.5 * (left - right) / np.where(bend < 0, bend, 1.0), 0.0)
    return totals[0], top - longest + np.where(at == top, fraction.clip(-1, 1), 0.0)


def _drift(evidence: ShiftEvidence, judged: np.ndarray, middle: float) -> float:
    """Drift in seconds an hour that the blocks clearly prefer to none, else 0."""
    rates = np.arange(-FASTEST_DRIFT, FASTEST_DRIFT + DRIFT_STEP / 2, DRIFT_STEP)
    totals = np.array([sheared(evidence, rate, middle).sum(axis=0) for rate in rates])
    totals[:, ~judged] = -1.0
    by_rate = totals.max(axis=1)
    at = int(by_rate.argmax())
    span = float(np.ptp(evidence.centres)) / 3600
    if at in (0, len(rates) - 1) or abs(rates[at]) * span < LEAST_DRIFT:
        return 0.0
    without = int(totals[len(rates) // 2].argmax())
    gain = sheared(evidence, rates[at], middle)[:, int(totals[at].argmax())] - evidence.scores[:, without]
    standard_error = gain.std(ddof=1) * np.sqrt(len(gain))
    if gain.sum() < CLEAR_DRIFT * standard_error:
        return 0.0
    left, peak, right = by_rate[at - 1 : at + 2]
    bend = left - 2 * peak + right
    return float(rates[at] + (DRIFT_STEP * 0.5 * (left - right) / bend if bend < 0 else 0.0))


def _why_not(total: FloatArray, best: float, agreement: float, longest: int) -> str | None:
    """Sentence on why a best shift is not believed, or None if it is."""
    if total.max() < LEAST_EVIDENCE:
        return UNALIKE
    if abs(best) > longest - 1:
        return _at_the_edge(longest)
    far = np.abs(np.arange(-longest, longest + 1) - best) > RIVAL_DISTANCE
    if (total[far] >= RIVAL_SHARE * total.max()).any():
        return RIVALS
    return None if agreement >= LEAST_AGREEMENT else UNALIKE


def _at_the_edge(longest: int) -> str:
    return f"The best shift lies at the edge of the search ({longest} s)."


def _unclear(spread: float, correlation: float, quick: FloatArray) -> str:
    """Why the blocks do not find one shift."""
    if np.nanstd(quick) < FEWEST_CHANGES:
        return "The work was steady: the traces have no edges to align."
    if not correlation >= LEAST_CORRELATION:
        return UNALIKE
    return f"Parts of the session speak for different shifts: the best is only known to about {spread:.0f} s."


def _sentence(best: float, spread: float, drift: float) -> str:
    direction = "later" if best > 0 else "earlier"
    sentence = (
        f"The tested trace's rises and falls come {abs(best):.1f} s {direction} than the reference's "
        f"(standard error {max(spread, 0.1):.1f} s)"
    )
    if drift:
        sentence += f", and its clock {'loses' if drift > 0 else 'gains'} {abs(drift):.1f} s an hour"
    return sentence + "."


def _correlation(reference: FloatArray, tested: FloatArray, lag: int) -> float:
    """Pearson correlation of ``reference[t]`` and ``tested[t + lag]``; NaN where undefined."""
    late = _at(tested, np.arange(len(tested)) + float(lag))
    both = np.isfinite(reference) & np.isfinite(late)
    if both.sum() < 2:
        return np.nan
    x, y = reference[both] - reference[both].mean(), late[both] - late[both].mean()
    scale = float(np.sqrt((x @ x) * (y @ y)))
    return float(np.clip(x @ y / scale, -1.0, 1.0)) if scale > 1e-6 else np.nan


def _at(values: FloatArray, places: NDArray[np.floating]) -> FloatArray:
    """Signal at fractional places of its own grid, NaN beyond its ends."""
    n = len(values)
    before = np.floor(places).astype(int)
    share = places - before
    padded = np.append(values, np.nan)
    here = padded[np.where((before >= 0) & (before < n), before, n)]
    if not share.any():
        return here
    after = padded[np.where((before >= -1) & (before < n - 1), before + 1, n)]
    between = (1 - share) * here + share * after
    return np.where(share == 0, here, between)
