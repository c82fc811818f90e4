"""Mean, peak, time in bands and the likely-true trace of a wrist-only part, all of one mind with its load.

The wrist's trace, its expected error made good, is stretched about its mean and shifted as a whole: draw by
draw so far that its load is the load drawn. Mean, time in bands and trace follow from the same stretch and
shift. What load does not determine is learned from pairs (``leftovers``): how much wider the true rates are
spread, how far the peak lies beyond them, how differently they are shared out, how far a second strays.

Of seconds that the wrist missed nothing is known here: they are held to be like the recorded ones, in mean,
peak and bands. What they add to the doubt of the load is drawn elsewhere (``correct.gap_factor``).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from accuracy.core.agreement.conditions import INTENSITY_BANDS
from accuracy.core.estimates.leftovers import Leftovers, expected_rates
from accuracy.core.estimates.rate_shares import MovedShares
from accuracy.core.estimates.rate_shift import load_of, moved, shift_to_load
from accuracy.core.learning.trace_model import LARGEST_ERROR, basis
from accuracy.core.learning.wrist_fit import WristFit, WristSession
from accuracy.core.traces.artefacts import Flags
from accuracy.core.traces.detectors import HIGHEST_RATE, LOWEST_RATE
from accuracy.core.traces.states import (
    EARLY_EDGES,
    RATE_STEP,
    SLOPE_MIDDLES,
    SLOPE_REACH,
    States,
    kinds_of_flag,
    slope_of,
)
from trainlog.load.physiology import PhysiologyDraws
from trainlog.trace import FloatArray

BAND_EDGES = tuple(low for _, low, _ in INTENSITY_BANDS[1:])
"""Percent of heart-rate reserve that part the bands; a band holds its lower edge."""

SMOOTHED_SECONDS = 2 * SLOPE_REACH + 1
"""Seconds over which the expected error is averaged, so that no step shows where a state begins."""

TAILS = (0.1, 0.5, 0.9)
"""Quantiles that bound an 80% interval, and its middle."""

TAIL_NORMAL = 1.2816
"""Standard deviations from the mean of a normal to those bounds."""


@dataclass(frozen=True, eq=False)
class LikelyRates:
    """Draws of a wrist-only part's rates; draw k belongs to draw k of its load.

    Attributes
    ----------
    shift : array, shape (DRAWS,)
        bpm, the same for every second.
    stretch : array, shape (DRAWS,)
        Factor on the distance from ``centre``, before the shift.
    centre : float
        Mean of the rates with their expected error made good, bpm.
    mean, peak : array, shape (DRAWS,)
        bpm; the peak is the rate that ``rate_shift.PEAK_SECONDS`` reach.
    minutes_in_band : array, shape (DRAWS, bands)
        From the lowest band up.
    stray : float
        Root mean square distance of single seconds from the trace so moved, bpm.
    floor : float
        Resting rate, below which nobody trains, bpm. Load does not mind: what lies below counts as nothing.
    """

    shift: FloatArray
    stretch: FloatArray
    centre: float
    mean: FloatArray
    peak: FloatArray
    minutes_in_band: FloatArray
    stray: float
    floor: float

    def moved(self, rate: FloatArray) -> FloatArray:
        """True rate where the wrist's, its expected error made good, is ``rate``; bpm, (DRAWS, rates)."""
        drawn = moved(rate[None, :], self.centre, self.stretch[:, None], self.shift[:, None])
        return np.maximum(drawn, self.floor)


def likely_rates(
    session: WristSession,
    log_ratio: FloatArray,
    fit: WristFit,
    leftovers: Leftovers,
    *,
    seconds: float,
    edges: Sequence[float] = BAND_EDGES,
) -> LikelyRates:
    """Rates of a wrist-only part that agree with its load, draw by draw.

    Parameters
    ----------
    session : WristSession
        With at least one state.
    log_ratio : array, shape (DRAWS,)
        Log of true over recorded load, as published.
    fit : WristFit
    leftovers : Leftovers
        Of the same pairs as the fit.
    seconds : float
        Length of the part.
    edges : sequence of float
        Percent of heart-rate reserve that part the bands, rising.

    Returns
    -------
    LikelyRates

    Raises
    ------
    ValueError
        If the wrist recorded nothing.
    """
    shares = likely_shares(session, log_ratio, fit, leftovers)
    left = leftovers[session.cell.family]
    base, stretch, shift, physiology = shares.base, shares.stretch, shares.shift, session.physiology
    rates = np.maximum(base.moved(stretch, shift), physiology.resting)
    mean = rates @ base.seconds / base.seconds.sum()
    peak = moved(base.peak, base.mean, stretch, shift) + left.peak_draws(session.content)
    reserve = physiology.maximum - physiology.resting
    reaching = shares.reaching(physiology.resting + np.array(edges) / 100 * reserve)
    at_least = np.column_stack([np.ones_like(mean), reaching, np.zeros_like(mean)])
    return LikelyRates(
        shift,
        stretch,
        base.mean,
        mean,
        peak.clip(mean, HIGHEST_RATE),
        np.maximum(at_least[:, :-1] - at_least[:, 1:], 0.0) * seconds / 60,
        left.stray,
        physiology.resting,
    )


def likely_shares(
    session: WristSession, log_ratio: FloatArray, fit: WristFit, leftovers: Leftovers
) -> MovedShares:
    """How the seconds of a wrist-only part are shared out over rates that agree with its load, draw by draw.

    Parameters
    ----------
    session : WristSession
        With at least one state.
    log_ratio : array, shape (DRAWS,)
        Log of true over recorded load, as published.
    fit : WristFit
    leftovers : Leftovers
        Of the same pairs as the fit.

    Returns
    -------
    MovedShares

    Raises
    ------
    ValueError
        If the wrist recorded nothing.
    """
    states, physiology, content = session.states, session.physiology, session.content
    left = leftovers[session.cell.family]
    if not len(states):
        raise ValueError("a part without one valid second has no rates to go by")
    base = expected_rates(states, session.cell.group, fit, physiology)
    stretch = left.stretch_draws(content)
    recorded = float(load_of(states.rate, states.seconds, physiology))
    shift = shift_to_load(base, stretch, recorded * np.exp(log_ratio), physiology)
    return MovedShares(base, RATE_STEP, stretch, shift, left.shape, content, physiology.resting)


def likely_band(
    heart_rate: FloatArray,
    flags: Flags,
    physiology: PhysiologyDraws,
    coefficients: FloatArray,
    rates: LikelyRates,
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Likely-true trace of a wrist-only part, as a band.

    It holds about four in five seconds, as far as pairs tell: where the trace as a whole may lie, and how far
    seconds stray from it. Time is the wrist's: pairs are aligned, so that a wrist that follows late does so
    in the band too.

    Parameters
    ----------
    heart_rate : array, shape (seconds,)
        Of the wrist in bpm at 1 Hz, NaN where nothing was recorded.
    flags : Flags
        Of the same trace.
    physiology : PhysiologyDraws
    coefficients : array, shape (``trace_model.TERMS``,)
        Of the trace model, for the instrument in the family.
    rates : LikelyRates
        Of the same part.

    Returns
    -------
    tuple of arrays, shape (seconds,)
        Lower bound, median and upper bound of the 80% interval at each second, bpm; NaN where nothing was
        recorded.
    """
    expected = heart_rate + expected_error(heart_rate, flags, physiology, coefficients)
    # A draw moves a rate whenever it occurs: what holds for every whole bpm holds for every second.
    whole = np.arange(LOWEST_RATE - LARGEST_ERROR, HIGHEST_RATE + LARGEST_ERROR + 1)
    drawn = rates.moved(whole)
    low, middle, high = np.quantile(drawn, TAILS, axis=0)
    stray = TAIL_NORMAL * rates.stray
    # Independent of where the trace as a whole lies, so the two half-widths add as squares.
    low, high = middle - np.hypot(middle - low, stray), middle + np.hypot(high - middle, stray)
    low = np.maximum(low, rates.floor)
    return tuple(np.interp(expected, whole, bound) for bound in (low, middle, high))


def expected_error(
    heart_rate: FloatArray, flags: Flags, physiology: PhysiologyDraws, coefficients: FloatArray
) -> FloatArray:
    """Error that the trace model expects at each second of a wrist trace, without steps.

    Parameters
    ----------
    heart_rate : array, shape (seconds,)
        bpm at 1 Hz, NaN where nothing was recorded.
    flags : Flags
    physiology : PhysiologyDraws
    coefficients : array, shape (``trace_model.TERMS``,)

    Returns
    -------
    array, shape (seconds,)
        bpm to be added; 0 where nothing was recorded.
    """
    known = np.flatnonzero(np.isfinite(heart_rate))
    error = np.zeros(len(heart_rate))
    if not len(known):
        return error
    # The model is straight between the five slopes of a state, so its value at any slope lies on the line.
    place = np.interp(slope_of(heart_rate)[known], SLOPE_MIDDLES, np.arange(len(SLOPE_MIDDLES)))
    below = np.minimum(place.astype(np.int64), len(SLOPE_MIDDLES) - 2)
    early = np.searchsorted(EARLY_EDGES, known - known[0], side="right")
    flagged = kinds_of_flag(flags)[known]
    ones = np.ones(len(known))
    lower, upper = (
        basis(States(heart_rate[known], slope, early, flagged, ones, ones), physiology) @ coefficients
        for slope in (below, below + 1)
    )
    of_second = np.clip(lower + (place - below) * (upper - lower), -LARGEST_ERROR, LARGEST_ERROR)
    error[known] = ndimage.uniform_filter1d(of_second, SMOOTHED_SECONDS, mode="nearest")
    return error
