"""Load, mean, peak and time in bands of a part: as recorded, as corrected, and as a strap measured them.

From what was kept of the recordings: no trace is decoded.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from accuracy.core.estimates.correct import LEAST_RECORDED
from accuracy.core.estimates.likely_trace import LikelyRates
from accuracy.core.estimates.rate_shift import RateCounts
from accuracy.models import Pair, Stretch
from accuracy.services.estimate import from_wrist
from accuracy.services.knowledge import Knowledge
from accuracy.services.likely import pairs_alike, rates_of, rests_on_wrist, stretch_of, stretches_of
from accuracy.services.sessions import wrist_session
from trainlog.load.intensity import seconds_in_reserve_bands
from trainlog.load.physiology import PhysiologyDraws
from trainlog.load.trimp import RATES
from trainlog.models import Athlete, Basis, LoadEstimate, Part, Sensor
from trainlog.trace import FloatArray


@dataclass(frozen=True, eq=False)
class Recorded:
    """Figures of one recording's valid seconds, at the central resting and maximum rate.

    Attributes
    ----------
    sensor : Sensor
    load : float
        Training impulse.
    mean, peak : float
        bpm; the peak is the rate that 5 s reach.
    minutes_in_band : array, shape (5,)
    missing_seconds : int
        Of the part, without a valid reading.
    """

    sensor: Sensor
    load: float
    mean: float
    peak: float
    minutes_in_band: FloatArray
    missing_seconds: int


@dataclass(frozen=True, eq=False)
class Corrected:
    """What most likely was, going by a tested sensor alone.

    Attributes
    ----------
    load : array, shape (DRAWS,)
        Training impulse with all doubt.
    half_width : float
        Of its 80% interval over the median, sensor doubt only.
    rates : LikelyRates
    pairs : int
        Of the same family of activities, from which the doubt was learned.
    learned_from : bool
        Whether this very part is one of them.
    """

    load: FloatArray
    half_width: float
    rates: LikelyRates
    pairs: int
    learned_from: bool


@dataclass(frozen=True, eq=False)
class PartFigures:
    """Figures of a part side by side; None for what there is none of.

    Attributes
    ----------
    physiology : PhysiologyDraws
        In force on the day.
    recorded : Recorded or None
        By the tested sensor.
    corrected : Corrected or None
    measured : Recorded or None
        By the strap.
    """

    physiology: PhysiologyDraws
    recorded: Recorded | None
    corrected: Corrected | None
    measured: Recorded | None


def figures_of(
    athlete: Athlete,
    part: Part,
    estimate: LoadEstimate,
    knowledge: Knowledge,
    physiology: PhysiologyDraws,
) -> PartFigures | None:
    """Figures of one of the athlete's parts.

    Parameters
    ----------
    athlete : Athlete
    part : Part
        With its workout and activity.
    estimate : LoadEstimate
        Training impulse on show of the part, up to date.
    knowledge : Knowledge
        What was learned, of the same fit.
    physiology : PhysiologyDraws
        In force on the day.

    Returns
    -------
    PartFigures or None
        None where the load rests on no recording.
    """
    if rests_on_wrist(estimate):
        worn = stretch_of(athlete, part, estimate, physiology)
        if worn is None:
            return None
        doubt = estimate.load, estimate.sensor_half_width
        corrected = _corrected(worn, estimate.basis, *doubt, knowledge, physiology)
        return PartFigures(physiology, _recorded(worn, physiology), corrected, None)
    if estimate.basis != Basis.MEASURED:
        return None
    stretches = stretches_of(athlete, part)
    straps = [one for one in stretches if one.recording.sensor and one.recording.sensor.is_reference]
    if not straps:
        return None
    strap = max(straps, key=lambda stretch: stretch.valid_seconds)
    measured = _recorded(strap, physiology)
    tested = [one for one in stretches if one.states and one.valid_seconds >= LEAST_RECORDED * one.seconds]
    said = [(from_wrist(part, one, knowledge, physiology), one) for one in tested]
    if not said:
        return PartFigures(physiology, None, None, measured)
    best, worn = min(said, key=lambda pair: pair[0].half_width)
    corrected = _corrected(worn, best.basis, best.load.all_doubt, best.half_width, knowledge, physiology)
    return PartFigures(physiology, _recorded(worn, physiology), corrected, measured)


def _corrected(
    worn: Stretch,
    basis: str,
    load: FloatArray,
    half_width: float,
    knowledge: Knowledge,
    physiology: PhysiologyDraws,
) -> Corrected:
    session = wrist_session(worn, physiology)
    pairs = Pair.objects.filter(part=worn.part_id, tested=worn.recording_id, usable=True)
    return Corrected(
        load,
        half_width,
        rates_of(worn, session, basis, knowledge),
        pairs_alike(session, knowledge),
        pairs.exists(),
    )


def _recorded(stretch: Stretch, physiology: PhysiologyDraws) -> Recorded:
    sensor, seconds = stretch.recording.sensor, stretch.seconds_at_rate
    if sensor is None:
        raise ValueError("a stretch is digested only once its sensor is known")
    reached = seconds > 0
    counts = RateCounts(RATES[reached], seconds[reached])
    minutes = seconds_in_reserve_bands(seconds, physiology.resting, physiology.maximum) / 60
    load = physiology.central_load(seconds)
    missing = stretch.seconds - stretch.valid_seconds
    return Recorded(sensor, load, counts.mean, counts.peak, np.asarray(minutes), missing)
