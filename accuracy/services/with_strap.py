"""How well a load would have been known with a strap, from sessions in which one was worn."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from trainlog.models import Athlete, Basis, Confidence, LoadEstimate, Part


@dataclass(frozen=True)
class WithStrap:
    """Confidence of measured loads of the athlete in an activity.

    Attributes
    ----------
    half_width : float
        Median over the sessions of the 80% interval's half-width over the load, sensor doubt only: a
        strap's own error, and what the seconds it missed might have held.
    sessions : int
        Measured parts that this is taken from.
    """

    half_width: float
    sessions: int

    @property
    def confidence(self) -> str:
        """Word for it."""
        return str(Confidence.of(self.half_width).label)


def with_strap(athlete: Athlete, part: Part, measure: str) -> WithStrap | None:
    """What a strap would have made of the load of a part worn without one.

    Parameters
    ----------
    athlete : Athlete
    part : Part
    measure : str
        Measure of load.

    Returns
    -------
    WithStrap or None
        None where the athlete has no measured session of the activity: then it is not known.
    """
    measured = LoadEstimate.objects.of(athlete).filter(
        part__activity=part.activity_id,
        basis=Basis.MEASURED,
        measure=measure,
        source=athlete.current_source,
    )
    found = list(measured.exclude(part=part).values_list("sensor_half_width", flat=True))
    return WithStrap(float(np.median(found)), len(found)) if found else None
