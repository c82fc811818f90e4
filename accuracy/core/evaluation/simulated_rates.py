"""How well mean, peak, time at high intensity and loads by zones are predicted, where the truth is known."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
import pandas as pd

from accuracy.core.estimates.leftovers import Leftovers, coefficients_of, learn_leftovers
from accuracy.core.estimates.likely_trace import LikelyRates, likely_band, likely_rates, likely_shares
from accuracy.core.estimates.measures import PartTime, summated_zones, three_zones
from accuracy.core.estimates.rate_shift import PEAK_SECONDS
from accuracy.core.evaluation.held_out import Trial
from accuracy.core.evaluation.simulate_athletes import SimulatedSession, simulate_athlete
from accuracy.core.evaluation.simulated_log import ACTIVITIES, FIRST_FURTHER, Setting, pair_of, trial_of
from accuracy.core.learning.wrist_fit import WristFit, learn_wrist
from accuracy.core.traces.align import estimate_shift, shifted
from accuracy.core.traces.artefacts import flag
from trainlog.load.draws import DRAWS, interval
from trainlog.load.physiology import PhysiologyDraws
from trainlog.load.zones import summated_zones_per_minute, three_zones_per_minute
from trainlog.trace import FloatArray

HIGH = 70.0
"""Percent of heart-rate reserve above which minutes are counted."""

FIGURES = (
    "mean, bpm",
    "peak, bpm",
    f"minutes above {HIGH:.0f}% of reserve",
    "summated zones",
    "three zones",
)
"""What is predicted, in the unit of its errors and widths; the zones of stand-ins for thresholds."""

FURTHER = 8
"""Wrist-only sessions of each activity."""


def evaluate_rates(seed: int, setting: Setting, *, further: int = FURTHER) -> list[dict[str, object]]:
    """Learn from a simulated athlete's pairs and predict the rates of wrist-only sessions.

    Parameters
    ----------
    seed : int
        Of the athlete.
    setting : Setting
    further : int
        Wrist-only sessions of each activity.

    Returns
    -------
    list of dict
        A row for each session and figure, with the number of pairs a cell it was learned from.
    """
    athlete = simulate_athlete(seed, broad=setting.broad, switched_on=setting.switched_on)
    physiology = PhysiologyDraws(athlete.resting, athlete.maximum, 0.0, 0.0, athlete.weighting, seed)
    worn = [
        (place, athlete.session(activity, place, paired=True))
        for activity in ACTIVITIES
        for place in range(max(setting.pair_counts))
    ]
    pairs = [(place, pair) for place, one in worn if (pair := pair_of(one, physiology)) is not None]
    sessions = [
        athlete.session(activity, FIRST_FURTHER + place, paired=False)
        for activity in ACTIVITIES
        for place in range(further)
    ]
    trials = [(one, trial) for one in sessions if (trial := trial_of(one, physiology)) is not None]
    rows: list[dict[str, object]] = []
    for count in setting.pair_counts:
        taught = [pair for place, pair in pairs if place < count]
        fit, _ = learn_wrist(taught, seed=seed)
        leftovers = learn_leftovers(taught, fit)
        for session, trial in trials:
            rows += _rows(session, trial, fit, leftovers, count)
    return rows


def _rows(
    session: SimulatedSession, trial: Trial, fit: WristFit, leftovers: Leftovers, pairs: int
) -> Iterator[dict[str, object]]:
    physiology, wrist = trial.session.physiology, trial.session
    seconds = len(session.truth)
    log_ratio = fit.further_session(wrist)
    drawn = likely_rates(wrist, log_ratio, fit, leftovers, seconds=seconds, edges=(HIGH,))
    truths = figures_of(session.truth, physiology, seconds)
    raw = figures_of(session.tested[np.isfinite(session.tested)], physiology, seconds)
    minutes = seconds / 60
    time = PartTime(likely_shares(wrist, log_ratio, fit, leftovers), np.full(DRAWS, minutes), minutes)
    draws = (
        drawn.mean,
        drawn.peak,
        drawn.minutes_in_band[:, 1],
        summated_zones(time, physiology).sensor_doubt,
        three_zones(time, physiology).sensor_doubt,
    )
    inside = share_in_band(session, fit, wrist.cell.group, physiology, drawn)
    for figure, truth, stands, likely in zip(FIGURES, truths, raw, draws, strict=True):
        low, median, high = interval(likely)
        yield {
            "athlete": trial.athlete,
            "family": session.family,
            "pairs": pairs,
            "figure": figure,
            "truth": truth,
            "raw": stands - truth,
            "corrected": median - truth,
            "width": high - low,
            "covers": float(low <= truth <= high),
            "share in band": inside,
        }


def figures_of(heart_rate: FloatArray, physiology: PhysiologyDraws, seconds: int) -> tuple[float, ...]:
    """Mean, peak, minutes above ``HIGH`` and loads by zones of a trace; missing seconds are like the others.

    Parameters
    ----------
    heart_rate : array, shape (valid seconds,)
        bpm, without NaN.
    physiology : PhysiologyDraws
    seconds : int
        Length of the part.
    """
    edge = physiology.resting + HIGH / 100 * (physiology.maximum - physiology.resting)
    reached = np.sort(heart_rate)[-min(int(PEAK_SECONDS), len(heart_rate))]
    minutes = seconds / 60
    return (
        float(heart_rate.mean()),
        float(reached),
        float((heart_rate >= edge).mean() * minutes),
        float(summated_zones_per_minute(heart_rate, physiology.maximum).mean() * minutes),
        float(three_zones_per_minute(heart_rate, *physiology.thresholds).mean() * minutes),
    )


def share_in_band(
    session: SimulatedSession, fit: WristFit, group: str, physiology: PhysiologyDraws, drawn: LikelyRates
) -> float:
    """Share of a session's recorded seconds whose true rate, put on the wrist's clock, lies in the band."""
    flags = flag(session.tested, principle="optical", cadence=session.cadence)
    low, _, high = likely_band(session.tested, flags, physiology, coefficients_of(group, fit), drawn)
    truth = shifted(session.truth, estimate_shift(session.truth, session.tested).seconds)
    both = np.isfinite(session.tested) & np.isfinite(truth)
    return float(np.mean((low[both] <= truth[both]) & (truth[both] <= high[both])))


def table(rows: Sequence[dict[str, object]], by: Sequence[str] = ()) -> pd.DataFrame:
    """Figures of ``evaluate_rates``, averaged within athletes, then over them.

    Parameters
    ----------
    rows : sequence of dict
    by : sequence of str
        Columns to group by beside the figure.

    Returns
    -------
    DataFrame
        ``trials``; mean absolute error ``raw`` and ``corrected``; ``bias`` of the corrected; ``width`` and
        ``coverage`` (per cent) of the 80% interval, and the coverage's standard error; ``share in band``
        (per cent) of seconds.
    """
    frame = pd.DataFrame(rows)
    frame = frame.assign(
        bias=frame["corrected"],
        raw=frame["raw"].abs(),
        corrected=frame["corrected"].abs(),
        coverage=100 * frame["covers"],
        **{"share in band": 100 * frame["share in band"]},
    )
    groups = [*by, "figure"]
    columns = ["raw", "corrected", "bias", "width", "coverage", "share in band"]
    own = frame.groupby([*groups, "athlete"])[columns].mean()
    over = own.groupby(level=groups)
    result = over.mean()
    result.insert(0, "trials", frame.groupby(groups).size())
    result.insert(6, "± coverage", over["coverage"].std() / np.sqrt(over.size()))
    return result
