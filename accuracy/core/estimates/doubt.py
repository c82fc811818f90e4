"""Where the doubt of a load comes from."""

from __future__ import annotations

import numpy as np

from trainlog.trace import FloatArray

LEAST_LOAD = 1e-9
"""Floor under a load before its log is taken."""


def sensor_share(by_sensor: FloatArray, by_physiology: FloatArray) -> float | None:
    """Share of the doubt of a load that the sensor makes; the rest is that of the physiology.

    Both doubts are independent and multiply the load, so the variances of its log add.

    Parameters
    ----------
    by_sensor, by_physiology : array, shape (DRAWS,)
        The load with each doubt alone, in arbitrary units.

    Returns
    -------
    float or None
        From 0 to 1; None where there is no doubt at all.
    """
    of_sensor, of_physiology = (
        float(np.var(np.log(np.maximum(draws, LEAST_LOAD)))) for draws in (by_sensor, by_physiology)
    )
    whole = of_sensor + of_physiology
    return of_sensor / whole if whole > 0 else None
