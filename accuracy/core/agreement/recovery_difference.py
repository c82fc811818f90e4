"""Hours of recovery that a reference's trace and a tested sensor's trace of the same seconds stand for."""

from __future__ import annotations

from dataclasses import asdict, dataclass

import numpy as np

from trainlog.load.draws import DRAWS, interval
from trainlog.load.intensity import seconds_in_domains
from trainlog.load.physiology import PhysiologyDraws
from trainlog.load.recovery import recovery_hours
from trainlog.trace import FloatArray


@dataclass(frozen=True)
class Hours:
    """Median and 80% interval, in hours."""

    low: float
    median: float
    high: float


@dataclass(frozen=True)
class RecoveryDifference:
    """Recovery by either trace, and the tested sensor's less the reference's.

    The intervals hold what is not known of how slowly the athlete recovers, which is the same for both.
    """

    reference: Hours
    tested: Hours
    difference: Hours

    def as_dict(self) -> dict[str, dict[str, float]]:
        """Nested figures, all in hours."""
        return asdict(self)


def recovery_difference(
    reference: FloatArray,
    tested: FloatArray,
    usual_daily_load: FloatArray | None,
    physiology: PhysiologyDraws,
) -> RecoveryDifference:
    """Difference in recovery hours between two recordings of the same seconds, as they stand.

    Parameters
    ----------
    reference, tested : array, shape (256,)
        Seconds at each whole bpm over the common seconds: results of ``trimp.histogram``.
    usual_daily_load : array, shape (DRAWS,), or None
        The athlete's chronic training impulse a day; without one the reference's load counts as usual.
    physiology : PhysiologyDraws
        Its central values count: both recordings are of one heart.

    Returns
    -------
    RecoveryDifference
        See ``load.recovery`` for what the hours are, and how weak.

    Raises
    ------
    ValueError
        If the reference holds no load to go by and none is usual.

    Examples
    --------
    >>> from trainlog.load.trimp import MEN, histogram
    >>> body = PhysiologyDraws(50, 190, 0, 0, MEN, seed=1)
    >>> hard, read_low = histogram(np.full(2400, 172.0)), histogram(np.full(2400, 150.0))
    >>> found = recovery_difference(hard, read_low, np.full(DRAWS, 60.0), body)
    >>> round(found.reference.median), round(found.tested.median)
    (64, 13)
    """
    loads = [physiology.central_load(seconds) for seconds in (reference, tested)]
    usual = np.full(DRAWS, loads[0]) if usual_daily_load is None else usual_daily_load
    if usual_daily_load is None and loads[0] <= 0:
        raise ValueError("a reference without load says nothing of recovery")
    hours = [
        recovery_hours(
            seconds_in_domains(seconds, *physiology.thresholds) / 60,
            np.full(DRAWS, load),
            usual,
            physiology.seed,
        )
        for seconds, load in zip((reference, tested), loads, strict=True)
    ]
    return RecoveryDifference(*(Hours(*interval(one)) for one in (*hours, hours[1] - hours[0])))
