"""How much of a session a sensor spent in each fault, and where it departs from the reference."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from accuracy.core.traces.artefacts import Flags, Reason
from accuracy.core.traces.step_rate import closed_runs, departs
from trainlog.trace import FloatArray

SHORTEST_DEPARTURE = 60
"""Seconds a departure must last to be listed (common practice, no source)."""


@dataclass(frozen=True)
class Departure:
    """A stretch on which the tested sensor is far off, from its first second to the first second after."""

    start: int
    end: int
    mean_difference: float
    mean_tested: float


def share_of_time_by_fault(flags: Flags) -> dict[str, float]:
    """Share (0 to 1) of a trace's seconds under each reason, by the reason's name in lower case.

    Reasons can hold at once, so the shares need not add up. All are NaN for an empty trace.
    """
    seconds = len(flags.codes)
    return {
        str(reason.name).lower(): float(flags.has(reason).mean()) if seconds else float("nan")
        for reason in Reason
    }


def departures(reference: FloatArray, tested: FloatArray) -> list[Departure]:
    """Stretches of a minute and more on which the tested rate is off by more than 5 bpm and 10%.

    Without cadence this is all that can be said of a sensor that may read the step rate: how long, and at
    which rate it stood meanwhile.

    Parameters
    ----------
    reference, tested : array, shape (seconds,)
        Heart rate in bpm at 1 Hz, NaN for gaps.

    Returns
    -------
    list of Departure
        In order of time; interruptions of up to ten seconds are closed. ``mean_difference`` (tested minus
        reference) and ``mean_tested`` are in bpm.
    """
    apart = departs(reference, tested)
    return [
        Departure(
            start,
            end,
            float(np.nanmean(tested[start:end] - reference[start:end])),
            float(np.nanmean(tested[start:end])),
        )
        for start, end in closed_runs(apart)
        if end - start >= SHORTEST_DEPARTURE
    ]
