"""What a wrist-only session can tell of its own error: figures of its trace, its length and its rating."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from accuracy.core.traces.states import AT_START, AT_STEP_RATE, NOT_FLAGGED, States
from trainlog.load.physiology import PhysiologyDraws
from trainlog.load.session_rpe import session_rpe_load
from trainlog.load.trimp import load_per_minute
from trainlog.trace import FloatArray

ROUGHNESS_WINDOW = 9
"""Seconds of the running mean that a rough trace departs from."""

LEAST_LOAD_A_MINUTE = 0.05
"""Floor under a load before its log is taken (common practice, no source)."""

LEAST_SHARE = 0.02
"""Share of the time below which some states say nothing of the whole (common practice, no source)."""

LATE = 2
"""First place after ``states.EARLY_EDGES`` that is no start any more: from the third minute on."""

HIGH_SHARE = 0.95
"""Quantile that stands for the peaks."""

SCALES: Mapping[str, float] = {
    "load": 0.2,
    "peaks": 0.10,
    "spread": 0.05,
    "unflagged load": 0.10,
    "start": 0.10,
    "rises": 0.5,
    "level": 0.10,
    "length": 0.5,
    "flagged at start": 0.05,
    "flagged at step rate": 0.2,
    "roughness": 0.5,
    "cadence": 10.0,
    "rating": 0.3,
}
"""Size of a usual departure of each feature, by which it is divided (common practice, no source)."""

FEATURES = tuple(SCALES)
"""Names of the features, in order."""

FEW = FEATURES[:6]
"""Those that a handful of pairs can teach something about."""

OF_TRACE = FEATURES[:-1]
"""Those that the wrist's recording alone gives; the last needs a session-RPE."""


@dataclass(frozen=True)
class Texture:
    """What the states of a trace do not hold.

    Attributes
    ----------
    roughness : float
        Root mean square of a trace's departure from its running mean over nine seconds, bpm.
    mean_cadence : float or None
        Steps or strides a minute.
    """

    roughness: float
    mean_cadence: float | None


def texture_of(heart_rate: FloatArray, cadence: FloatArray | None) -> Texture:
    """Measure a trace's texture.

    Parameters
    ----------
    heart_rate : array, shape (seconds,)
        bpm at 1 Hz, NaN for gaps.
    cadence : array, shape (seconds,), optional
    """
    known = heart_rate[np.isfinite(heart_rate)]
    rough = 0.0
    if len(known) > ROUGHNESS_WINDOW:
        rough = float(np.sqrt(np.mean((known - ndimage.uniform_filter1d(known, ROUGHNESS_WINDOW)) ** 2)))
    moving = cadence[np.isfinite(cadence) & (cadence > 0)] if cadence is not None else np.zeros(0)
    return Texture(rough, float(moving.mean()) if len(moving) else None)


def features_of(
    states: States, texture: Texture, minutes: float, session_rpe: float | None, physiology: PhysiologyDraws
) -> FloatArray:
    """Features of a wrist-only session, at the central physiology of its day.

    Parameters
    ----------
    states : States
        Of the wrist trace.
    texture : Texture
    minutes : float
        Length of the part.
    session_rpe : float or None
        Rating on the CR10 scale.
    physiology : PhysiologyDraws

    Returns
    -------
    array, shape (features,)
        In the order of ``FEATURES``, each over its ``SCALES``; NaN where unknown.

    Notes
    -----
    Load is the log of the load a minute; level, spread and peaks are shares of heart-rate reserve (mean,
    standard deviation, 95% quantile); unflagged load and start are logs of the load a minute over unflagged
    seconds, and from the third minute on, against all seconds; rises is the log of the share of time in the
    fastest rises; length is the log of the minutes; rating is the log of session-RPE load over wrist load.
    """
    if not len(states):
        return np.full(len(FEATURES), np.nan)
    reserve = physiology.maximum - physiology.resting
    share = (states.rate - physiology.resting) / reserve
    weight = states.seconds / states.seconds.sum()
    level = float(weight @ share)
    peaks = np.quantile(share, HIGH_SHARE, weights=weight, method="inverted_cdf")
    load = load_per_minute(states.rate, physiology.resting, physiology.maximum, physiology.weighting)
    mean_load = float(weight @ load)
    rated = None
    if session_rpe and mean_load > 0:
        rated = float(np.log(session_rpe_load(session_rpe, minutes) / (mean_load * minutes)))
    values = {
        "load": float(np.log(max(mean_load, LEAST_LOAD_A_MINUTE))),
        "peaks": float(peaks),
        "spread": float(np.sqrt(weight @ (share - level) ** 2)),
        "unflagged load": _log_of_share(load, weight, states.flagged == NOT_FLAGGED),
        "start": _log_of_share(load, weight, states.early >= LATE),
        "rises": float(np.log(0.02 + weight[states.slope == 4].sum())),
        "level": level,
        "length": float(np.log(minutes)),
        "flagged at start": float(weight[states.flagged == AT_START].sum()),
        "flagged at step rate": float(weight[states.flagged == AT_STEP_RATE].sum()),
        "roughness": float(np.log(max(texture.roughness, 0.1))),
        "cadence": np.nan if texture.mean_cadence is None else texture.mean_cadence,
        "rating": np.nan if rated is None else rated,
    }
    return np.array([values[name] / SCALES[name] for name in FEATURES])


def _log_of_share(load: FloatArray, weight: FloatArray, chosen: NDArray[np.bool_]) -> float:
    """Log of the load a minute over the chosen states against all; 0 where next to nothing is chosen."""
    there, whole = weight[chosen].sum(), float(load @ weight)
    if there < LEAST_SHARE or whole <= 0:
        return 0.0
    return float(np.log(max(load[chosen] @ weight[chosen] / there / whole, LEAST_LOAD_A_MINUTE)))
