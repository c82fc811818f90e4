"""Loads of many parts, read as little as their sums need: the draws with all doubt."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from trainlog.load.draws import DRAWS, interval
from trainlog.models import Athlete, LoadEstimate, Part
from trainlog.trace import FloatArray


@dataclass(frozen=True)
class SummedLoad:
    """Sum of loads: its 80% interval with all doubt, and its draws, shape (DRAWS,)."""

    low: float
    median: float
    high: float
    draws: FloatArray

    @classmethod
    def of(cls, draws: FloatArray) -> SummedLoad:
        """Describe a sum by its draws."""
        return cls(*interval(draws), draws)


@dataclass(frozen=True)
class DatedLoads:
    """Loads of parts in the order of their days.

    Attributes
    ----------
    days : array of datetime64[D], shape (parts,)
        Local days.
    workouts : array of int, shape (parts,)
        Keys of the workouts.
    bases, confidences : sequence of str
        As in ``LoadEstimate``.
    draws : array, shape (parts, DRAWS)
        With all doubt, in single precision as they are stored.
    """

    days: np.ndarray
    workouts: np.ndarray
    bases: Sequence[str]
    confidences: Sequence[str]
    draws: np.ndarray

    def sum(self, chosen: np.ndarray | slice) -> SummedLoad | None:
        """Sum of the chosen parts; None for none, since there is no interval around nothing."""
        rows = self.draws[chosen]
        return SummedLoad.of(rows.sum(axis=0, dtype=float)) if len(rows) else None

    def places(self, first: date, last: date) -> slice:
        """Where the parts of the days from ``first`` to ``last`` stand."""
        days = np.array([first, last + timedelta(days=1)], "datetime64[D]")
        return slice(*np.searchsorted(self.days, days))

    def between(self, first: date, last: date) -> SummedLoad | None:
        """Sum of the parts of the days from ``first`` to ``last``."""
        return self.sum(self.places(first, last))


def dated_loads(athlete: Athlete, parts: Sequence[Part] | None = None) -> DatedLoads:
    """Current loads of an athlete's parts, in the measure of load that the athlete goes by.

    Parameters
    ----------
    athlete : Athlete
        Whose log it is.
    parts : sequence of Part, optional
        Those that are wanted; without them, all there are.
    """
    rows = LoadEstimate.objects.of(athlete).filter(measure=athlete.measure, source=athlete.current_source)
    if parts is not None:
        rows = rows.filter(part__in=parts)
    names = ("part__workout__day", "part__workout_id", "basis", "confidence", "all_draws")
    found = sorted(rows.values_list(*names), key=lambda row: (row[0], row[1]))
    stored = np.frombuffer(b"".join(row[4] for row in found), dtype="<f4")
    return DatedLoads(
        days=np.array([row[0] for row in found], "datetime64[D]"),
        workouts=np.array([row[1] for row in found], int),
        bases=[row[2] for row in found],
        confidences=[row[3] for row in found],
        draws=stored.reshape(len(found), DRAWS),
    )
